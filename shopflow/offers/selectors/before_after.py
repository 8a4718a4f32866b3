"""Readings before and after the work, kind by kind, for the report with which an instrument goes home.

A reading after the work counts only if no work that changes what it reads was begun after it.
"""

from __future__ import annotations

from dataclasses import dataclass, field
from datetime import datetime
from typing import Any

from django.db.models import QuerySet

from shopflow.catalogue.models import ReadingKind
from shopflow.catalogue.selectors import the_shop
from shopflow.instruments.models import Instrument, SurveyReading
from shopflow.readings.measures import quantity_of
from shopflow.readings.models import Phase, Reading
from shopflow.readings.selectors.lines import usual_words
from shopflow.readings.selectors.told import From, lines_for_report
from shopflow.readings.what_is_read import BEARING, READS, REGULATED, WEIGHTS

from .proved import Proved, proved

# With more places than this a kind is told as a span and not place by place.
PLACES_TOLD = 4
NOTHING = "–"


@dataclass(slots=True)
class OfKind:
    """All values of one kind: the earliest before the work, the latest after it, by place."""

    kind: ReadingKind
    units: str
    before: dict[str, float] = field(default_factory=dict)
    after: dict[str, float] = field(default_factory=dict)

    def lines(self) -> list[dict[str, str]]:
        places = list(self.after)
        if len(places) > PLACES_TOLD:
            before = {place: self.before[place] for place in places if place in self.before}
            return [self._line(f"{len(places)} places", self._span(before), self._span(self.after))]
        return [
            self._line(place, self._told(self.before.get(place)), self._told(self.after[place]))
            for place in places
        ]

    def _line(self, place: str, before: str, after: str) -> dict[str, str]:
        usual = usual_words(self.kind, self.units)
        return {"name": self.kind.name, "place": place, "before": before, "after": after, "usual": usual}

    def _told(self, value: float | None) -> str:
        return NOTHING if value is None else quantity_of(self.kind).written(value, self.units)

    def _span(self, values: dict[str, float]) -> str:
        if not values:
            return NOTHING
        low, high = (self._told(one) for one in (min(values.values()), max(values.values())))
        return low if low == high else f"{low} to {high}"


def before_and_after(instrument: Instrument, shown: Proved | None = None) -> list[dict[str, str]]:
    """A line for each kind and place with a value after the work, of this stay, in the shop's units."""
    units, shown = the_shop().units, shown or proved(instrument)
    found: dict[int, OfKind] = {}
    by_survey = SurveyReading.objects.filter(survey__instrument=instrument, taken_back_at=None)
    for row in _of_stay(by_survey, shown).select_related("kind").order_by("at", "pk"):
        _of(found, row.kind, units).before.setdefault(row.place, float(row.value))
    sheets = Reading.objects.filter(sheet__task__instrument=instrument, struck_at=None)
    for reading in _of_stay(sheets, shown).select_related("kind", "sheet__task").order_by("at", "pk"):
        one = _of(found, reading.kind, units)
        if reading.phase == Phase.BEFORE:
            one.before.setdefault(reading.place, reading.value)
        elif reading.phase == Phase.AFTER and _still_says(reading, shown):
            one.after[reading.place] = reading.value
    told = sorted(
        (one for one in found.values() if one.after), key=lambda one: (one.kind.position, one.kind.code)
    )
    since = From(
        stay=shown.since,
        weights=shown.read_since(WEIGHTS),
        regulated=shown.read_since(REGULATED),
        bearing=shown.read_since(BEARING),
    )
    return [*(line for one in told for line in one.lines()), *lines_for_report(instrument, since)]


def _still_says(reading: Reading, shown: Proved) -> bool:
    """Whether nothing that changes what it reads was begun after it."""
    reads = READS.get(reading.kind.code)
    since: datetime | None
    since = shown.read_since(reads) if reads else shown.read_since_at(reading.sheet.task.department_id)
    return since is None or reading.at >= since


def _of_stay(rows: QuerySet[Any], shown: Proved) -> QuerySet[Any]:
    return rows if shown.since is None else rows.filter(at__gte=shown.since)


def _of(found: dict[int, OfKind], kind: ReadingKind, units: str) -> OfKind:
    return found.setdefault(kind.pk, OfKind(kind, units))
