"""Hours that are really worked: over shifts, closed days and the nights when the clocks change."""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from dataclasses import dataclass, field
from datetime import UTC, date, datetime, timedelta, tzinfo
from typing import cast

from shopflow.compute.calendar.reading import ShiftWeek, Week, shifts_of_the_week
from shopflow.compute.calendar.wall import (
    A_TICK,
    FIRST_YEAR,
    LAST_YEAR,
    aware_moment,
    instant,
    plain_date,
    time_zone,
)
from shopflow.compute.calendar.worked import NO_TIME, Span, WorkedWeek
from shopflow.compute.errors import ComputeError
from shopflow.compute.guards import number, some

MOST_HOURS = 100_000
AN_HOUR, A_DAY, A_WEEK = timedelta(hours=1), timedelta(days=1), timedelta(weeks=1)


@dataclass(frozen=True)
class WorkCalendar:
    """The hours in which a bench is worked, week in, week out, less the closed days.

    A shift is read off the clock on the wall and may run over midnight ("22:00" to "06:00"); it belongs to
    the day on which it starts. On a closed day nobody works: no shift starts, and one that runs in from the
    evening before stops at midnight. Hours are real ones: a night shift is an hour shorter or longer when the
    clocks change.

    Parameters: `week`, shifts per weekday, 0 = Monday to 6 = Sunday, as a mapping or a list of seven; each
    shift a pair of `datetime.time`, "HH:MM" or hours after midnight; `closed`, dates; `zone`, the shop's time
    zone (default: that of the moment asked about).
    Errors: ComputeError for a week without shifts, shifts that overlap, or what is no time or date.
    Source: own rules; times of day by ISO 8601, clock changes by PEP 495.

    >>> from zoneinfo import ZoneInfo
    >>> shop = WorkCalendar({day: [("08:00", "12:00"), ("13:00", "17:00")] for day in range(5)})
    >>> friday = datetime(2026, 11, 27, 15, tzinfo=ZoneInfo("Europe/Berlin"))
    >>> shop.add(friday, 4).isoformat()
    '2026-11-30T10:00:00+01:00'
    """

    week: Week
    closed: Iterable[date] = ()
    zone: tzinfo | None = None
    _known: dict[tuple[date, tzinfo], WorkedWeek] = field(
        default_factory=dict, init=False, repr=False, compare=False
    )

    def __post_init__(self) -> None:
        shut = frozenset(plain_date("closed", day) for day in some("closed", self.closed, at_least=0))
        object.__setattr__(self, "week", shifts_of_the_week(self.week))
        object.__setattr__(self, "closed", shut)
        if self.zone is not None:
            time_zone("zone", self.zone)

    def add(self, start: datetime, hours: float) -> datetime:
        """Say when so many hours of work are done that begin at a moment.

        The answer is the earliest such moment: 8 hours from Friday 08:00 end on Friday evening, not on Monday
        morning. Negative hours go back and give the latest moment at which to begin, so a promise can be
        worked backwards. No hours change nothing.

        Parameters: `start`, aware moment, inside or outside of shifts; `hours`, working hours, -100,000 to
        100,000. Result: aware moment, to the microsecond, in the calendar's zone or that of `start`.
        Errors: ComputeError for bad input, or if the work would end outside the years 1583 to 9998.
        Source: own rule.

        >>> shop = WorkCalendar([[(8, 16)]] * 5 + [[], []], closed=[date(2026, 12, 25)])
        >>> shop.add(datetime(2026, 12, 24, 12, tzinfo=UTC), 6).isoformat()
        '2026-12-28T10:00:00+00:00'
        >>> shop.add(datetime(2026, 12, 28, 10, tzinfo=UTC), -6).isoformat()
        '2026-12-24T12:00:00+00:00'
        """
        begins, zone = self._here("start", start)
        amount = number("hours", hours, at_least=-MOST_HOURS, at_most=MOST_HOURS, unit="hours")
        left = timedelta(hours=abs(amount))
        if not left:
            return begins.astimezone(zone)
        walk = self._forward if amount > 0 else self._backward
        ends = walk("start", begins, left, zone)
        return ends.astimezone(zone)

    def between(self, a: datetime, b: datetime) -> float:
        """Count the working hours between two moments.

        Parameters: `a` and `b`, aware moments; a calendar without a zone goes by that of the earlier one.
        Result: hours, negative if `b` is the earlier one.
        Errors: ComputeError for moments without a time zone. Source: own rule.

        >>> shop = WorkCalendar([[(8, 16)]] * 5 + [[], []])
        >>> shop.between(datetime(2026, 11, 27, 12, tzinfo=UTC), datetime(2026, 11, 30, 9, tzinfo=UTC))
        5.0
        """
        (start, zone), (end, _) = self._here("a", a), self._here("b", b)
        if end < start:
            return -self.between(b, a)
        worked = NO_TIME
        for week in self._weeks_from(start, zone):
            worked += week.worked(start, end)
            if week.ends >= end:
                return worked / AN_HOUR
        raise _out_of_years("b", b)

    def next_open(self, moment: datetime) -> datetime:
        """Say when work can begin: now, if a shift is on, else when the next one starts.

        Parameters: `moment`, aware. Result: aware moment in the calendar's zone or that of `moment`.
        Errors: ComputeError for a moment without a time zone. Source: own rule.

        >>> shop = WorkCalendar([[(8, 16)]] * 5 + [[], []])
        >>> shop.next_open(datetime(2026, 11, 27, 16, tzinfo=UTC)).isoformat()
        '2026-11-30T08:00:00+00:00'
        """
        begins, zone = self._here("moment", moment)
        # The smallest piece of work cannot be split by a break, so it starts where work begins.
        first_piece = self._forward("moment", begins, A_TICK, zone)
        return (first_piece - A_TICK).astimezone(zone)

    def _here(self, name: str, moment: datetime) -> tuple[datetime, tzinfo]:
        """Give a moment in UTC, and the zone whose clock hangs on the wall."""
        aware = aware_moment(name, moment)
        return aware.astimezone(UTC), self.zone or cast(tzinfo, aware.tzinfo)

    def _forward(self, name: str, begins: datetime, left: timedelta, zone: tzinfo) -> datetime:
        for week in self._weeks_from(begins, zone):
            worked = week.worked(begins=begins)
            if worked >= left:
                return week.reach(begins, left)
            left -= worked
        raise _out_of_years(name, begins)

    def _backward(self, name: str, ends: datetime, left: timedelta, zone: tzinfo) -> datetime:
        for monday in _mondays(ends.astimezone(zone).date(), -1):
            week = self._week(monday, zone)
            worked = week.worked(ends=ends)
            if worked >= left:
                return week.reach_back(ends, left)
            left -= worked
        raise _out_of_years(name, ends)

    def _weeks_from(self, begins: datetime, zone: tzinfo) -> Iterator[WorkedWeek]:
        # A week earlier first: a night shift of last Sunday may still be on.
        for monday in _mondays(begins.astimezone(zone).date() - A_WEEK, +1):
            yield self._week(monday, zone)

    def _week(self, monday: date, zone: tzinfo) -> WorkedWeek:
        known = self._known.get((monday, zone))
        if known is None:
            days = (monday + timedelta(days=passed) for passed in range(7))
            spans = [span for day in days for span in self._spans(day, zone)]
            known = self._known[monday, zone] = WorkedWeek.of(spans, instant(monday, A_WEEK, zone))
        return known

    def _spans(self, day: date, zone: tzinfo) -> list[Span]:
        if day in self.closed:
            return []
        stop = A_DAY if day + A_DAY in self.closed else 2 * A_DAY
        week = cast(ShiftWeek, self.week)
        clock = [(starts, min(ends, stop)) for starts, ends in week[day.weekday()]]
        found = [(instant(day, starts, zone), instant(day, ends, zone)) for starts, ends in clock]
        # A shift can vanish altogether in the hour that the clocks skip.
        return [(start, end) for start, end in found if start < end]


def _mondays(day: date, direction: int) -> Iterator[date]:
    """Walk week by week, on or back, as far as the calendar reaches."""
    monday = day - timedelta(days=day.weekday())
    while FIRST_YEAR <= monday.year <= LAST_YEAR:
        yield monday
        monday += direction * A_WEEK


def _out_of_years(name: str, given: object) -> ComputeError:
    return ComputeError(name, given, f"work that lies within the years {FIRST_YEAR} to {LAST_YEAR}")
