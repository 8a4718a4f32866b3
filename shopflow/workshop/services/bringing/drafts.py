"""What will be written: instruments with their owner, their route and their tasks, before anything is."""

from __future__ import annotations

from dataclasses import dataclass, field
from datetime import date
from decimal import Decimal
from typing import Any

from shopflow.catalogue.models import Department, Operation, Route, Stage


@dataclass(frozen=True, slots=True)
class TaskDraft:
    line: int
    name: str
    department: Department
    path: list[Stage]
    stage: Stage
    operation: Operation | None = None
    hours: Decimal | None = None
    note: str = ""
    why: str = ""


@dataclass(slots=True)
class InstrumentDraft:
    """One instrument as it will be.

    `asked` holds days that cannot be read before somebody says how; `by_route`: its tasks are its route's.
    """

    line: int
    number: str
    facts: dict[str, Any] = field(default_factory=dict)
    route: Route | None = None
    tasks: list[TaskDraft] = field(default_factory=list)
    asked: dict[str, str] = field(default_factory=dict)
    by_route: bool = False

    @property
    def arrived_on(self) -> date | None:
        return self.facts.get("arrived_on")

    @property
    def promised_on(self) -> date | None:
        return self.facts.get("promised_on")

    @property
    def owner(self) -> tuple[str, str, str] | None:
        """Name, e-mail address and telephone of whose it is."""
        name = self.facts.get("customer", "")
        if not name:
            return None
        return name, self.facts.get("customer_email", ""), self.facts.get("customer_phone", "")
