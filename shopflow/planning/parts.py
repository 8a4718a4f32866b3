"""Which parts of a piano a task has to itself: no two benches can be planned on one body at a time."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass, field

from shopflow.catalogue.knowledge import knowledge
from shopflow.catalogue.models import Kind
from shopflow.compute.worknet import Knowledge
from shopflow.workshop.models import Task
from shopflow.workshop.services.order import places


@dataclass(frozen=True, slots=True)
class Parts:
    """What the shop's catalogue knows of who holds what, of each kind of piano."""

    known: Mapping[str, Knowledge] = field(default_factory=dict)

    @classmethod
    def read(cls, kinds: Iterable[str] = tuple(Kind.values)) -> Parts:
        return cls({kind: knowledge(kind) for kind in sorted(kinds)})

    def held_by(self, task: Task) -> frozenset[str]:
        """What nobody else can have while this task has it."""
        return places.parts_of(task, self.known[task.instrument.kind])

    def rest_keeps(self, task: Task) -> bool:
        """Clamps and cure keep the parts; strings that settle and goods on order leave them to others."""
        if task.operation is None:
            return False
        return self.known[task.instrument.kind].rest_holds(task.operation.code)
