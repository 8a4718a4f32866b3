"""What an instrument waits for now, in one line."""

from __future__ import annotations

from dataclasses import dataclass, field
from datetime import date

from django.db.models import QuerySet
from django.utils import timezone

from shopflow.catalogue.models import Department
from shopflow.catalogue.selectors import departments, stages_by_id
from shopflow.common import clock
from shopflow.planning.models import Hold, PartOnOrder
from shopflow.planning.words import day
from shopflow.workshop.models import Task
from shopflow.workshop.selectors.instrument import TOLD_FIRST
from shopflow.workshop.selectors.standing import Standing, State, standings


@dataclass(frozen=True, slots=True)
class Waits:
    """The task that is told first, and the sentence about it."""

    task_id: int | None
    words: str
    stopped: bool = False


@dataclass(slots=True)
class OpenWork:
    """The open work of many instruments, with what holds it up. Six queries whatever their number."""

    by_instrument: dict[int, list[Standing]]
    departments: dict[int, Department]
    parts: dict[int, PartOnOrder] = field(default_factory=dict)
    held: dict[int, date] = field(default_factory=dict)

    @classmethod
    def of(cls, tasks: QuerySet[Task], today: date) -> OpenWork:
        work: dict[int, list[Standing]] = {}
        for one in standings(tasks, stages_by_id()):
            work.setdefault(one.instrument_id, []).append(one)
        parts = PartOnOrder.objects.filter(arrived_on=None, task__in=tasks.values("pk")).order_by(
            "-expected_on"
        )
        held = Hold.objects.filter(until__gt=today).values_list("instrument_id", "until")
        return cls(
            by_instrument=work,
            departments={one.pk: one for one in departments()},
            parts={part.task_id: part for part in parts},
            held=dict(held),
        )

    def waits(self, instrument: int) -> Waits:
        """Snags first, then parts on order, what rests, is checked, is on a bench, could be taken."""
        told = [one for one in self.by_instrument.get(instrument, ()) if one.state in TOLD_FIRST]
        first = min(told, key=self._told_first, default=None)
        if first is None:
            return Waits(None, "Nothing that is laid out can be begun")
        return Waits(first.task_id, self._words(first), stopped=first.state is State.STOPPED)

    def _told_first(self, one: Standing) -> tuple[int, int]:
        on_order = one.task_id in self.parts and one.state is not State.STOPPED
        return (1 if on_order else 2 * TOLD_FIRST.index(one.state), one.task_id)

    def _words(self, one: Standing) -> str:
        bench = self.departments[one.department_id].name
        if one.state is State.STOPPED:
            return f"{one.name} is stopped: {one.stopped_by}"
        if one.task_id in self.parts:
            part = self.parts[one.task_id]
            return f"{one.name} waits for {part.what}, expected {day(part.expected_on)}"
        if one.state is State.RESTING:
            return self._rest_words(one)
        if one.state is State.PROVING:
            return f"{one.name} is to be checked in {bench}"
        if one.state is State.BENCHED:
            return f"{one.name} is on the bench in {bench}"
        if one.instrument_id in self.held:
            return f"Held back until {day(self.held[one.instrument_id])}"
        return f"A place in {bench} for {one.name}"

    def _rest_words(self, one: Standing) -> str:
        if one.rest_until is None:
            return f"{one.name} rests"
        ends = day(timezone.localdate(one.rest_until))
        if one.rest_until <= clock.now():
            return f"{one.name} was rested on {ends}: somebody to go on"
        return f"{one.name} rests until {ends}"
