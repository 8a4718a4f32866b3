"""The year's number laid over the weeks in which the shop is really open."""

from __future__ import annotations

from collections.abc import Collection, Iterable
from datetime import date

from shopflow.compute.calendar.wall import plain_date
from shopflow.compute.calendar.weeks import IsoWeek, weeks_in_year
from shopflow.compute.errors import ComputeError
from shopflow.compute.guards import number, some, whole

MONDAY_TO_FRIDAY = (0, 1, 2, 3, 4)


def working_weeks(
    year: int, closed: Iterable[date] = (), weekdays: Collection[int] = MONDAY_TO_FRIDAY
) -> dict[IsoWeek, float]:
    """Say how much of each ISO week the shop is open; the sum is the year's number of working weeks.

    Parameters: `year`, ISO year; `closed`, dates on which the shop is shut (others than the usual days off do
    no harm); `weekdays`, the days usually worked, 0 = Monday to 6 = Sunday.
    Result: every ISO week of the year in order, with its share of open days, 0 to 1.
    Errors: ComputeError for impossible years, days or dates. Source: own rule; weeks by ISO 8601.

    >>> shares = working_weeks(2026, closed=[date(2026, 12, 25), date(2027, 1, 1)])
    >>> shares[IsoWeek(2026, 52)], shares[IsoWeek(2026, 51)], round(sum(shares.values()), 9)
    (0.8, 1.0, 52.6)
    """
    usual, shut = _weekdays(weekdays), _dates(closed)
    first = IsoWeek(year, 1)
    weeks = first.until(IsoWeek(year, weeks_in_year(year)))
    return {week: _open_days(week, usual, shut) / len(usual) for week in weeks}


def target_to_date(
    target: float,
    year: int,
    on: date,
    closed: Iterable[date] = (),
    weekdays: Collection[int] = MONDAY_TO_FRIDAY,
) -> float:
    """Say how many instruments should be finished by the evening of a day to be level with the year's target.

    The target grows evenly over the open days of the ISO year: a week with a holiday carries less of it, the
    summer closing none, and a year of 53 weeks does not drift.

    Parameters: `target`, instruments in the ISO year, 0 or more; `year`, ISO year; `on`, the day (its whole
    day counts); `closed` and `weekdays` as for `working_weeks`.
    Result: instruments, as float: 0 before the year, the whole target after it.
    Errors: ComputeError for bad input, or if the shop is shut all year. Source: own rule; ISO 8601 weeks.

    >>> target_to_date(52, 2027, on=date(2027, 1, 31))
    4.0
    """
    target = number("target", target, at_least=0, unit="instruments")
    usual, shut, on = _weekdays(weekdays), _dates(closed), plain_date("on", on)
    weeks = IsoWeek(year, 1).until(IsoWeek(year, weeks_in_year(year)))
    worked = [day for week in weeks for day in week.days() if _is_open(day, usual, shut)]
    if not worked:
        raise ComputeError("closed", f"all of {year}", "at least one open day in the year")
    return target * (sum(day <= on for day in worked) / len(worked))


def _open_days(week: IsoWeek, usual: frozenset[int], shut: frozenset[date]) -> int:
    return sum(_is_open(day, usual, shut) for day in week.days())


def _is_open(day: date, usual: frozenset[int], shut: frozenset[date]) -> bool:
    return day.weekday() in usual and day not in shut


def _weekdays(given: Collection[int]) -> frozenset[int]:
    days = some("weekdays", given, at_least=1, at_most=7)
    return frozenset(whole("weekdays", day, at_least=0, at_most=6) for day in days)


def _dates(given: Iterable[date]) -> frozenset[date]:
    return frozenset(plain_date("closed", day) for day in some("closed", given, at_least=0))
