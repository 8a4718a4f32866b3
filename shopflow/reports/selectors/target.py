"""The annual target laid over the weeks in which the shop works.

A week counts for its ISO year: the year to which its Thursday belongs. Target, count and working weeks all
follow that one rule, so 29 December may count for the next year and 2 January for the last.
"""

from __future__ import annotations

from collections.abc import Collection, Iterable, Mapping
from dataclasses import dataclass
from datetime import date

from shopflow.compute.calendar import IsoWeek, target_to_date, working_weeks
from shopflow.planning.models import AnnualTarget, ClosedDay
from shopflow.planning.selectors import weekdays_worked
from shopflow.reports.figures import YearSoFar


@dataclass(frozen=True, slots=True)
class Aim:
    """One ISO year's target, None where nobody has set one, and how much of each week the shop is open."""

    year: int
    target: int | None
    shares: Mapping[IsoWeek, float]
    closed: Collection[date]
    weekdays: Collection[int]

    @property
    def per_open_week(self) -> float | None:
        open_weeks = sum(self.shares.values())
        return self.target / open_weeks if self.target is not None and open_weeks else None

    def needed_in(self, week: IsoWeek) -> float | None:
        """What this week has to bring so that the year comes level with its target."""
        per_week = self.per_open_week
        return None if per_week is None else per_week * self.shares[week]

    def by_week(self) -> dict[IsoWeek, float] | None:
        """What should be finished by the end of each week."""
        if self.per_open_week is None:
            return None
        reached, total = {}, 0.0
        for week, share in self.shares.items():
            total += self.per_open_week * share
            reached[week] = total
        return reached

    def by_day(self, day: date) -> float | None:
        """What should be finished by the evening of this day."""
        if self.target is None or self.per_open_week is None:
            return None
        return target_to_date(self.target, self.year, day, self.closed, self.weekdays)

    def weeks_left_after(self, week: IsoWeek) -> float:
        return sum(share for later, share in self.shares.items() if later > week)

    def needed_per_week(self, finished: int, *, after: IsoWeek) -> float | None:
        """How many a working week must bring from now on; None without a target or without weeks left."""
        left = self.weeks_left_after(after)
        if self.target is None or not left:
            return None
        return max(0, self.target - finished) / left


def aims(years: Collection[int]) -> dict[int, Aim]:
    """The aims of these ISO years, in three queries."""
    targets = dict(AnnualTarget.objects.filter(year__in=years).values_list("year", "instruments"))
    reach = (date(min(years) - 1, 12, 1), date(max(years) + 1, 1, 31))
    closed = frozenset(ClosedDay.objects.filter(day__range=reach).values_list("day", flat=True))
    weekdays = weekdays_worked()
    return {
        year: Aim(year, targets.get(year), working_weeks(year, closed, weekdays), closed, weekdays)
        for year in years
    }


def so_far(aim: Aim, net: Mapping[IsoWeek, int], *, week: IsoWeek, last_day: date) -> YearSoFar:
    """The year up to the end of a week, or of `last_day` while that week still runs."""
    counts = running(net.get(each, 0) for each in aim.shares if each <= week)
    aims_by_week = aim.by_week()
    whole = last_day == week.sunday() and aims_by_week
    return YearSoFar(
        year=aim.year,
        target=aim.target,
        finished=counts[-1],
        aim=rounded(whole[week] if whole else aim.by_day(last_day)),
        needed_per_week=rounded(aim.needed_per_week(counts[-1], after=week)),
        weeks_left=round(aim.weeks_left_after(week), 1),
        weeks=[str(each) for each in aim.shares],
        running=counts,
        aims=[round(value, 2) for value in aims_by_week.values()] if aims_by_week else None,
    )


def running(counts: Iterable[int]) -> list[int]:
    """
    >>> running([1, 0, 2])
    [1, 1, 3]
    """
    total, sums = 0, []
    for count in counts:
        total += count
        sums.append(total)
    return sums


def rounded(value: float | None) -> float | None:
    return None if value is None else round(value, 2)
