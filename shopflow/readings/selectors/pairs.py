"""Pairs of before and after on the sheet of one task, for the page of an instrument's readings."""

from __future__ import annotations

from dataclasses import dataclass

from shopflow.catalogue.models import ReadingKind
from shopflow.catalogue.selectors import the_shop
from shopflow.instruments.models import Instrument
from shopflow.readings.models import Phase, Reading
from shopflow.workshop.models import Task

from .lines import ReadOff


@dataclass(frozen=True, slots=True)
class Pair:
    """The same value at the same place, before and after the work of one task, in the shop's units."""

    kind: ReadingKind
    place: str
    task: Task
    before: ReadOff
    after: ReadOff

    @property
    def name(self) -> str:
        return f"{self.kind.name}, {self.place}" if self.place else self.kind.name


def before_after(instrument: Instrument) -> list[Pair]:
    """Every value of this instrument that was read before and after: the first before, the last after.

    Struck readings count for nothing. One query, besides the shop.
    """
    units = the_shop().units
    lines = (
        Reading.objects.filter(sheet__task__instrument=instrument, struck_at=None)
        .exclude(phase=Phase.DURING)
        .select_related("kind", "sheet__task__department", "by")
        .order_by("sheet__task__position", "kind__position", "kind__code", "place", "at", "pk")
    )
    first: dict[tuple[int, int, str], Reading] = {}
    last: dict[tuple[int, int, str], Reading] = {}
    for line in lines:
        key = (line.sheet.task_id, line.kind_id, line.place.casefold())
        if line.phase == Phase.BEFORE:
            first.setdefault(key, line)
        else:
            last[key] = line
    return [
        Pair(before.kind, before.place, before.sheet.task, ReadOff(before, units), ReadOff(last[key], units))
        for key, before in first.items()
        if key in last
    ]
