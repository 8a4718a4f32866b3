"""Work that is not laid out: tasks that no database knows, so that the planner can be asked about them."""

from __future__ import annotations

import itertools
from collections.abc import Iterable, Sequence
from copy import copy
from dataclasses import dataclass, field
from datetime import date, datetime

from shopflow.instruments.models import Instrument
from shopflow.workshop.models import Task

from .selectors.estimates import Spread

_numbers = itertools.count(1)


@dataclass(slots=True)
class PaperWork:
    """Instruments on paper. Their numbers, and those of their tasks, are below zero, and no two alike."""

    tasks: list[Task] = field(default_factory=list)
    needs: dict[int, list[int]] = field(default_factory=dict)
    estimates: dict[int, Spread] = field(default_factory=dict)
    begins: dict[int, date] = field(default_factory=dict)
    # How many of them a week, where they come one after the other.
    per_week: float = 0.0

    def add(
        self,
        piano: Instrument,
        tasks: Sequence[Task],
        *,
        ties: Iterable[tuple[int, int]],
        estimates: Sequence[Spread],
        begins: date,
        promised_on: date | None,
        now: datetime,
    ) -> int:
        """Lay tasks out on a copy of an instrument; tells its number. Ties are (earlier, later) by place."""
        double = copy(piano)
        double.pk, double.promised_on = -next(_numbers), promised_on
        self.begins[double.pk] = begins
        self.lay(double, tasks, ties=ties, estimates=estimates, now=now)
        return double.pk

    def lay(
        self,
        piano: Instrument,
        tasks: Sequence[Task],
        *,
        ties: Iterable[tuple[int, int]],
        estimates: Sequence[Spread],
        now: datetime,
    ) -> list[int]:
        """Lay tasks out beside what an instrument has already; tells their numbers."""
        numbers = [-next(_numbers) for _ in tasks]
        for task, number, estimate in zip(tasks, numbers, estimates, strict=True):
            self.tasks.append(_on_the_rack(task, number, piano, now))
            self.estimates[number] = estimate
        for earlier, later in ties:
            self.needs.setdefault(numbers[later], []).append(numbers[earlier])
        return numbers


def _on_the_rack(task: Task, number: int, piano: Instrument, now: datetime) -> Task:
    fresh = copy(task)
    fresh.pk, fresh.instrument, fresh.instrument_id = number, piano, piano.pk
    fresh.stage_id, fresh.stage_since, fresh.earliest_touch = task.path[0], now, None
    return fresh
