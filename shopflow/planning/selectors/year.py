"""Questions about the year: its target, its closed days, and the weeks that are left to work in."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date

from shopflow.compute.calendar.year import MONDAY_TO_FRIDAY, working_weeks
from shopflow.people.models import WorkingDay
from shopflow.planning.models import AnnualTarget, ClosedDay


@dataclass(frozen=True, slots=True)
class YearSheet:
    """One year as the shop has planned it."""

    year: int
    target: AnnualTarget | None
    closed: list[ClosedDay]
    weeks: float

    @property
    def a_week(self) -> float | None:
        """Instruments to finish in each working week to reach the target."""
        return self.target.instruments / self.weeks if self.target and self.weeks else None


def year_sheet(year: int) -> YearSheet:
    return YearSheet(
        year=year,
        target=target_of(year),
        closed=list(ClosedDay.objects.filter(day__year=year)),
        weeks=sum(working_weeks(year, closed=closed_around(year), weekdays=weekdays_worked()).values()),
    )


def target_of(year: int) -> AnnualTarget | None:
    return AnnualTarget.objects.filter(year=year).first()


def closed_around(year: int) -> list[date]:
    """The closed days of a year and of the days by which its ISO weeks reach into its neighbours."""
    edges = (date(year - 1, 12, 29), date(year + 1, 1, 3))
    return list(ClosedDay.objects.filter(day__range=edges).values_list("day", flat=True))


def weekdays_worked() -> tuple[int, ...]:
    """The weekdays on which somebody works (0 = Monday); Monday to Friday until anybody's week is known."""
    found = WorkingDay.objects.filter(hours__gt=0, person__is_active=True).order_by("weekday")
    return tuple(found.values_list("weekday", flat=True).distinct()) or MONDAY_TO_FRIDAY
