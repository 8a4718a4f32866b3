"""ISO 8601 weeks: the shop reports, plans and counts by them, so they are values of their own."""

from __future__ import annotations

import re
from collections.abc import Iterator
from dataclasses import dataclass
from datetime import date, datetime, timedelta, tzinfo

from shopflow.compute.calendar.wall import (
    FIRST_YEAR,
    LAST_YEAR,
    aware_moment,
    instant,
    plain_date,
    time_zone,
)
from shopflow.compute.errors import ComputeError
from shopflow.compute.guards import whole

WRITTEN = re.compile(r"([0-9]{4})-W([0-9]{2})")
MIDNIGHT = timedelta(0)


def weeks_in_year(year: int) -> int:
    """Say whether an ISO year has 52 or 53 weeks: a weekly target of a fifty-second drifts in the long ones.

    Parameters: `year`, ISO year (1583 to 9998). Result: 52 or 53. Errors: ComputeError for any other year.
    Source: ISO 8601: week 1 holds the year's first Thursday, so 28 December is always in the last week.

    >>> weeks_in_year(2026), weeks_in_year(2027)
    (53, 52)
    """
    year = whole("year", year, at_least=FIRST_YEAR, at_most=LAST_YEAR)
    return date(year, 12, 28).isocalendar().week


@dataclass(frozen=True, slots=True, order=True)
class IsoWeek:
    """One week from Monday to Sunday, numbered by ISO 8601; weeks sort in time and can be keys.

    Parameters: `year`, ISO year (1583 to 9998; around New Year it differs from the date's year); `week`,
    from 1 to the year's last. Errors: ComputeError when the year has no such week. Source: ISO 8601.

    >>> week = IsoWeek.of(date(2027, 1, 3))
    >>> str(week), week.monday().isoformat(), str(week.next())
    ('2026-W53', '2026-12-28', '2027-W01')
    """

    year: int
    week: int

    def __post_init__(self) -> None:
        whole("week", self.week, at_least=1, at_most=weeks_in_year(self.year))

    @classmethod
    def of(cls, day: date) -> IsoWeek:
        """Name the week in which a date lies.

        Parameters: `day`, a date; a moment is refused, see `at`. Result: IsoWeek.
        Errors: ComputeError for anything but a date from 1583 to 9998. Source: ISO 8601.

        >>> str(IsoWeek.of(date(2005, 1, 1)))
        '2004-W53'
        """
        year, week, _ = plain_date("day", day).isocalendar()
        return cls(year, week)

    @classmethod
    def at(cls, moment: datetime, zone: tzinfo) -> IsoWeek:
        """Name the week that the shop's calendar on the wall showed at a moment.

        Parameters: `moment`, aware; `zone`, the shop's time zone. Result: IsoWeek.
        Errors: ComputeError for a moment without a zone. Source: ISO 8601.

        >>> from datetime import UTC
        >>> from zoneinfo import ZoneInfo
        >>> str(IsoWeek.at(datetime(2026, 11, 29, 23, 30, tzinfo=UTC), ZoneInfo("Europe/Berlin")))
        '2026-W49'
        """
        there = aware_moment("moment", moment).astimezone(time_zone("zone", zone))
        return cls.of(there.date())

    @classmethod
    def parse(cls, written: str) -> IsoWeek:
        """Read a week as it is written in reports and addresses.

        Parameters: `written`, such as "2026-W48". Result: IsoWeek. `str(week)` writes it again.
        Errors: ComputeError for other texts and for weeks the year does not have. Source: ISO 8601.

        >>> IsoWeek.parse("2026-W48")
        IsoWeek(year=2026, week=48)
        """
        found = WRITTEN.fullmatch(written) if isinstance(written, str) else None
        if found is None:
            raise ComputeError("week", written, "a week written like 2026-W48")
        return cls(int(found[1]), int(found[2]))

    def __str__(self) -> str:
        return f"{self.year:04}-W{self.week:02}"

    def monday(self) -> date:
        """Give the week's first day. Result: date. Errors: none. Source: ISO 8601.

        >>> IsoWeek(2026, 1).monday().isoformat()
        '2025-12-29'
        """
        return date.fromisocalendar(self.year, self.week, 1)

    def sunday(self) -> date:
        """Give the week's last day. Result: date. Errors: none. Source: ISO 8601.

        >>> IsoWeek(2026, 53).sunday().isoformat()
        '2027-01-03'
        """
        return date.fromisocalendar(self.year, self.week, 7)

    def days(self) -> list[date]:
        """Give the seven days from Monday to Sunday. Result: list of dates. Errors: none. Source: ISO 8601.

        >>> [day.day for day in IsoWeek(2026, 48).days()]
        [23, 24, 25, 26, 27, 28, 29]
        """
        return [self.monday() + timedelta(days=passed) for passed in range(7)]

    def later(self, weeks: int) -> IsoWeek:
        """Go some weeks on, or back with a negative number.

        Parameters: `weeks`, whole weeks. Result: IsoWeek. Errors: ComputeError beyond 1583 to 9998.
        Source: ISO 8601.

        >>> str(IsoWeek(2026, 53).later(1)), str(IsoWeek(2027, 1).later(-54))
        ('2027-W01', '2025-W52')
        """
        return IsoWeek.of(_days_later(self.monday(), 7 * whole("weeks", weeks)))

    def next(self) -> IsoWeek:
        """Give the week after this one. Result: IsoWeek. Errors: ComputeError after 9998. Source: ISO 8601.

        >>> str(IsoWeek(2020, 53).next())
        '2021-W01'
        """
        return self.later(1)

    def previous(self) -> IsoWeek:
        """Give the week before this one. Result: IsoWeek. Errors: ComputeError before 1583. Source: ISO 8601.

        >>> str(IsoWeek(2021, 1).previous())
        '2020-W53'
        """
        return self.later(-1)

    def until(self, last: IsoWeek) -> Iterator[IsoWeek]:
        """Walk from this week through the last one, both included (nothing if the last lies earlier).

        Parameters: `last`, IsoWeek. Result: weeks in order. Errors: ComputeError if `last` is no IsoWeek.
        Source: ISO 8601.

        >>> [str(week) for week in IsoWeek(2026, 52).until(IsoWeek(2027, 1))]
        ['2026-W52', '2026-W53', '2027-W01']
        """
        if not isinstance(last, IsoWeek):
            raise ComputeError("last", last, "an IsoWeek")
        weeks = (last.monday() - self.monday()).days // 7
        return (self.later(passed) for passed in range(weeks + 1))

    def bounds_utc(self, zone: tzinfo) -> tuple[datetime, datetime]:
        """Give the instants from which and before which a move counts as this week's.

        The week is 167 or 169 hours long when the clocks change, and always meets the next without a gap.

        Parameters: `zone`, the shop's time zone. Result: Monday 00:00 there and next Monday 00:00 there,
        both as UTC moments. Errors: ComputeError if `zone` is no time zone. Source: ISO 8601; PEP 495.

        >>> from zoneinfo import ZoneInfo
        >>> [end.isoformat() for end in IsoWeek(2026, 13).bounds_utc(ZoneInfo("Europe/Berlin"))]
        ['2026-03-22T23:00:00+00:00', '2026-03-29T22:00:00+00:00']
        """
        zone = time_zone("zone", zone)
        next_monday = self.monday() + timedelta(days=7)
        return instant(self.monday(), MIDNIGHT, zone), instant(next_monday, MIDNIGHT, zone)


def _days_later(day: date, days: int) -> date:
    try:
        return day + timedelta(days=days)
    except OverflowError:
        allowed = f"weeks that stay within {FIRST_YEAR} to {LAST_YEAR}"
        raise ComputeError("weeks", days // 7, allowed) from None
