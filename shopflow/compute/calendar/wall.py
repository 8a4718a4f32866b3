"""From the clock on the wall to the instant it names, also when an hour is missing or comes twice."""

from __future__ import annotations

from datetime import UTC, date, datetime, timedelta, tzinfo

from shopflow.compute.errors import ComputeError

FIRST_YEAR, LAST_YEAR = 1583, 9998  # ISO 8601 needs no special agreement from 1583 on; both ends leave room.
A_TICK = timedelta(microseconds=1)


def plain_date(field: str, given: object) -> date:
    """Hand back a calendar date; a moment is refused, because its date depends on where the clock hangs.

    Parameters: `field` the name shown to the person; `given` what came in. Result: `datetime.date`.
    Errors: ComputeError for anything but a date from 1583 to 9998. Source: none needed.

    >>> plain_date("day", date(2026, 11, 23))
    datetime.date(2026, 11, 23)
    """
    if isinstance(given, datetime) or not isinstance(given, date):
        raise ComputeError(field, given, "a date without a time of day")
    if not FIRST_YEAR <= given.year <= LAST_YEAR:
        raise ComputeError(field, given, f"a date from {FIRST_YEAR} to {LAST_YEAR}")
    return given


def aware_moment(field: str, given: object) -> datetime:
    """Hand back a date and time that knows its time zone; without one nobody can say which hour is meant.

    Parameters: `field` the name shown to the person; `given` what came in. Result: aware `datetime`.
    Errors: ComputeError for anything else. Source: none needed.

    >>> aware_moment("start", datetime(2026, 11, 23, 8, tzinfo=UTC)).hour
    8
    """
    if not isinstance(given, datetime) or given.utcoffset() is None:
        raise ComputeError(field, given, "a date and time with its time zone")
    if not FIRST_YEAR <= given.year <= LAST_YEAR:
        raise ComputeError(field, given, f"a moment from {FIRST_YEAR} to {LAST_YEAR}")
    return given


def time_zone(field: str, given: object) -> tzinfo:
    """Hand back a time zone (such as a `zoneinfo.ZoneInfo`), or say that it is none.

    Parameters: `field` the name shown to the person; `given` what came in. Result: `tzinfo`.
    Errors: ComputeError for anything else, also for a zone's bare name. Source: none needed.

    >>> time_zone("zone", UTC)
    datetime.timezone.utc
    """
    if not isinstance(given, tzinfo):
        raise ComputeError(field, given, "a time zone, such as zoneinfo.ZoneInfo('Europe/Berlin')")
    return given


def instant(day: date, past_midnight: timedelta, zone: tzinfo) -> datetime:
    """Find the first instant at which the clock on the wall reads this time of this day, or later.

    In a doubled hour this is the first of the two; a reading that is skipped gives the instant of the jump.

    Parameters: `day`; `past_midnight` the reading, as time after 00:00 (24 h and more run into the next
    day's readings); `zone`. Result: aware `datetime` in UTC.
    Errors: none of its own. Source: the gap and fold rules of PEP 495.

    >>> from zoneinfo import ZoneInfo
    >>> instant(date(2026, 3, 29), timedelta(hours=2.5), ZoneInfo("Europe/Berlin")).isoformat()
    '2026-03-29T01:00:00+00:00'
    """
    reading = datetime.combine(day, datetime.min.time()) + past_midnight
    found = reading.replace(tzinfo=zone, fold=0).astimezone(UTC)
    if found.astimezone(zone).replace(tzinfo=None) == reading:
        return found
    return _jump(reading, found, zone)


def _jump(skipped: datetime, after: datetime, zone: tzinfo) -> datetime:
    """Close in on the instant at which the clock jumps over a reading (the later side is known)."""
    before = skipped.replace(tzinfo=zone, fold=1).astimezone(UTC)
    while after - before > A_TICK:
        middle = before + (after - before) // 2
        if middle.astimezone(zone).replace(tzinfo=None) < skipped:
            before = middle
        else:
            after = middle
    return after
