"""Everything that was read and worked out at one instrument, by task."""

from __future__ import annotations

from collections import defaultdict
from dataclasses import dataclass, field

from shopflow.catalogue.selectors import the_shop
from shopflow.instruments.models import Instrument
from shopflow.readings.models import BenchSheet, Computed, Reading
from shopflow.workshop.models import Task

from .lines import Answered, ReadOff


@dataclass(frozen=True, slots=True)
class FilledSheet:
    """One sheet with its lines; `task` for where it was taken."""

    sheet: BenchSheet
    readings: list[ReadOff] = field(default_factory=list)
    answers: list[Answered] = field(default_factory=list)

    @property
    def task(self) -> Task:
        return self.sheet.task

    @property
    def name(self) -> str:
        return self.sheet.get_kind_display()


def sheets_of_instrument(instrument: Instrument) -> list[FilledSheet]:
    """Its sheets in the order of its work, each with its lines as they were taken. Three queries."""
    units = the_shop().units
    mine = {"sheet__task__instrument": instrument}
    readings: dict[int, list[ReadOff]] = defaultdict(list)
    for line in (
        Reading.objects.filter(**mine)
        .select_related("kind", "by", "struck_by")
        .order_by("kind__position", "kind__code", "place", "at", "pk")
    ):
        readings[line.sheet_id].append(ReadOff(line, units))
    answers: dict[int, list[Answered]] = defaultdict(list)
    for answer in Computed.objects.filter(**mine).select_related("by", "struck_by").order_by("at", "pk"):
        answers[answer.sheet_id].append(Answered(answer, units))
    sheets = (
        BenchSheet.objects.filter(task__instrument=instrument)
        .select_related("task__department", "opened_by")
        .order_by("task__position", "task__pk", "pk")
    )
    return [FilledSheet(sheet, readings[sheet.pk], answers[sheet.pk]) for sheet in sheets]
