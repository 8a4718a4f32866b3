"""What was read before: on this instrument at other times, and in this shop on other instruments.

Where experts give no pass mark, this is what a hand can hold a value against.
"""

from __future__ import annotations

import statistics
from collections import defaultdict
from collections.abc import Iterable
from dataclasses import dataclass
from datetime import datetime

from shopflow.catalogue.models import ReadingKind
from shopflow.instruments.models import SurveyReading
from shopflow.readings.measures import quantity_of
from shopflow.readings.models import Reading
from shopflow.workshop.models import Task

# The latest so many readings of a sheet's kinds tell what is usual here; from so few nothing is told.
LOOKED_AT = 2_000
ENOUGH = 5


@dataclass(frozen=True, slots=True)
class Earlier:
    """One value that was read on this instrument before: at a survey or at another task."""

    value: str
    place: str
    where: str
    at: datetime


def earlier_readings(task: Task, kinds: Iterable[ReadingKind], units: str) -> dict[int, list[Earlier]]:
    """By kind: what was read on the same instrument elsewhere, oldest first. Two queries."""
    by_pk = {kind.pk: kind for kind in kinds}
    found: dict[int, list[Earlier]] = defaultdict(list)
    surveyed = SurveyReading.objects.filter(
        survey__instrument=task.instrument_id, kind__in=by_pk, taken_back_at=None
    )
    for row in surveyed.order_by("at", "pk"):
        value = quantity_of(by_pk[row.kind_id]).written(float(row.value), units)
        found[row.kind_id].append(Earlier(value, row.place, "survey", row.at))
    taken = Reading.objects.filter(
        sheet__task__instrument=task.instrument_id, kind__in=by_pk, struck_at=None
    ).exclude(sheet__task=task.pk)
    for line in taken.select_related("sheet__task").order_by("at", "pk"):
        value = quantity_of(by_pk[line.kind_id]).written(line.value, units)
        found[line.kind_id].append(Earlier(value, line.place, line.sheet.task.name, line.at))
    return found


def usual_here(task: Task, kinds: Iterable[ReadingKind], units: str) -> dict[int, str]:
    """By kind: the span and the middle of what this shop read on other instruments. One query."""
    by_pk = {kind.pk: kind for kind in kinds}
    values: dict[int, list[float]] = defaultdict(list)
    others = Reading.objects.filter(kind__in=by_pk, struck_at=None, measured_again=False).exclude(
        sheet__task__instrument=task.instrument_id
    )
    for kind, value in others.order_by("-pk").values_list("kind", "value")[:LOOKED_AT]:
        values[kind].append(value)
    return {pk: _in_words(by_pk[pk], run, units) for pk, run in values.items() if len(run) >= ENOUGH}


def _in_words(kind: ReadingKind, values: list[float], units: str) -> str:
    quantity = quantity_of(kind)
    low, high = (quantity.written(each, units) for each in (min(values), max(values)))
    middle = quantity.written(statistics.median(values), units)
    return f"{low} to {high}, half of them up to {middle} ({len(values)} readings)"
