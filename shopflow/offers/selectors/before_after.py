"""Readings before and after the work, kind by kind, for the report with which an instrument goes home."""

from __future__ import annotations

from dataclasses import dataclass, field

from shopflow.catalogue.models import ReadingKind
from shopflow.instruments.models import Instrument, SurveyReading
from shopflow.readings.models import Phase, Reading
from shopflow.readings.selectors.told import lines_for_report

# With more places than this a kind is told as a span and not place by place.
PLACES_TOLD = 4


@dataclass(slots=True)
class OfKind:
    """All values of one kind: the earliest before the work, the latest after it, by place."""

    kind: ReadingKind
    before: dict[str, float] = field(default_factory=dict)
    after: dict[str, float] = field(default_factory=dict)

    def lines(self) -> list[dict[str, str]]:
        places = list(dict.fromkeys([*self.before, *self.after]))
        if len(places) > PLACES_TOLD:
            return [
                self._line(
                    f"{len(places)} places", _span(self.before, self.kind), _span(self.after, self.kind)
                )
            ]
        return [
            self._line(
                place, _told(self.before.get(place), self.kind), _told(self.after.get(place), self.kind)
            )
            for place in places
        ]

    def _line(self, place: str, before: str, after: str) -> dict[str, str]:
        return {
            "name": self.kind.name,
            "place": place,
            "before": before,
            "after": after,
            "usual": usual_words(self.kind),
        }


def before_and_after(instrument: Instrument) -> list[dict[str, str]]:
    """A line for each kind and place with a value after the work; six queries."""
    found: dict[int, OfKind] = {}
    by_survey = SurveyReading.objects.filter(survey__instrument=instrument, taken_back_at=None)
    for row in by_survey.select_related("kind").order_by("at", "pk"):
        _of(found, row.kind).before.setdefault(row.place, float(row.value))
    sheets = Reading.objects.filter(sheet__task__instrument=instrument, struck_at=None)
    for reading in sheets.select_related("kind").order_by("at", "pk"):
        one = _of(found, reading.kind)
        if reading.phase == Phase.BEFORE:
            one.before.setdefault(reading.place, reading.value)
        elif reading.phase == Phase.AFTER:
            one.after[reading.place] = reading.value
    told = [one for one in found.values() if one.after]
    told.sort(key=lambda one: (one.kind.position, one.kind.code))
    return [*(line for one in told for line in one.lines()), *lines_for_report(instrument)]


def usual_words(kind: ReadingKind) -> str:
    """What is usual, as far as experts agree; empty where they give no mark."""
    if kind.usual_words:
        return kind.usual_words
    low, high = kind.usual_low, kind.usual_high
    if low is None and high is None:
        return ""
    if low is None:
        return f"up to {high:g} {kind.unit}".strip()
    return (f"from {low:g}" if high is None else f"{low:g} to {high:g}") + f" {kind.unit}".rstrip()


def _of(found: dict[int, OfKind], kind: ReadingKind) -> OfKind:
    return found.setdefault(kind.pk, OfKind(kind))


def _told(value: float | None, kind: ReadingKind) -> str:
    return "–" if value is None else f"{value:.{kind.decimals}f} {kind.unit}".rstrip()


def _span(values: dict[str, float], kind: ReadingKind) -> str:
    if not values:
        return "–"
    low, high = min(values.values()), max(values.values())
    return _told(low, kind) if low == high else f"{low:.{kind.decimals}f} to {_told(high, kind)}"
