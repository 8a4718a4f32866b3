"""Measures in words: "Lend Nerys Holm to the final bench in week 49"."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass, field
from datetime import date

from shopflow.catalogue.models import Department
from shopflow.instruments.models import Instrument
from shopflow.people.models import Person

from .measures import HoldBack, LendAHand, LetGoOn, Measure, WorkMore


@dataclass(frozen=True, slots=True)
class Names:
    """Who and what the measures mean; read once for a page."""

    people: dict[int, str] = field(default_factory=dict)
    departments: dict[int, str] = field(default_factory=dict)
    instruments: dict[int, str] = field(default_factory=dict)

    @classmethod
    def for_measures(cls, measures: Iterable[Measure]) -> Names:
        """Three queries, whatever the number of measures."""
        pianos = {one.instrument for one in measures if isinstance(one, HoldBack | LetGoOn)}
        return cls(
            dict(Person.objects.values_list("pk", "name")),
            dict(Department.objects.values_list("pk", "name")),
            dict(Instrument.objects.filter(pk__in=pianos).values_list("pk", "number")),
        )

    def say(self, one: Measure) -> str:
        match one:
            case LendAHand(person, department, first, last):
                return f"Lend {self._who(person)} to {self._where(department)} {days_said(first, last)}"
            case WorkMore(person, hours, first, last):
                return f"{self._who(person)} works {hours:g} h a day more {days_said(first, last)}"
            case HoldBack(instrument, until):
                return f"Hold {self._which(instrument)} back until {_day(until)}"
            case LetGoOn(instrument):
                return f"Let {self._which(instrument)} go on, which is held back"

    def _who(self, pk: int) -> str:
        return self.people.get(pk, "someone who has left")

    def _where(self, pk: int) -> str:
        return self.departments.get(pk, "a bench that is gone")

    def _which(self, pk: int) -> str:
        return self.instruments.get(pk, "an instrument that is gone")


def days_said(first: date, last: date) -> str:
    """Whole ISO weeks by their numbers, other days by their dates.

    >>> days_said(date(2026, 11, 30), date(2026, 12, 6)), days_said(date(2026, 12, 28), date(2027, 1, 10))
    ('in week 49', 'in weeks 53 and 1')
    >>> days_said(date(2026, 11, 30), date(2026, 12, 27)), days_said(date(2026, 12, 1), date(2026, 12, 4))
    ('in weeks 49 to 52', 'from 1 Dec to 4 Dec')
    """
    if first.weekday() != 0 or last.weekday() != 6:
        return f"on {_day(first)}" if first == last else f"from {_day(first)} to {_day(last)}"
    weeks = ((last - first).days + 1) // 7
    begins, ends = first.isocalendar().week, last.isocalendar().week
    if weeks == 1:
        return f"in week {begins}"
    return f"in weeks {begins} {'and' if weeks == 2 else 'to'} {ends}"


def _day(day: date) -> str:
    return f"{day.day} {day:%b}"
