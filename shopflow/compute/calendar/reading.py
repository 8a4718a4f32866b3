"""A week of shifts as people write it, read into times after midnight and checked for overlaps."""

from __future__ import annotations

import re
from collections.abc import Iterable, Mapping, Sequence
from datetime import time, timedelta
from itertools import pairwise

from shopflow.compute.errors import ComputeError
from shopflow.compute.guards import number, some, whole

Clock = time | str | float
Week = Mapping[int, Sequence[tuple[Clock, Clock]]] | Sequence[Sequence[tuple[Clock, Clock]]]
Shift = tuple[timedelta, timedelta]
ShiftWeek = tuple[tuple[Shift, ...], ...]

WRITTEN = re.compile(r"([01][0-9]|2[0-4]):([0-5][0-9])")
A_DAY = timedelta(days=1)


def shifts_of_the_week(week: Week) -> ShiftWeek:
    """Read the shifts of Monday to Sunday, in order of their starts.

    Parameters: `week`, a mapping of weekdays (0 = Monday to 6 = Sunday) or a list of seven, to shifts; each
    shift a pair of `datetime.time`, "HH:MM" or hours after midnight.
    Result: seven tuples of (start, end) as time after the day's midnight; an end may lie in the next day.
    Errors: ComputeError if no shift is there, shifts overlap, or something is no time of day.
    Source: own rule; times of day by ISO 8601, 24:00 as the day's end.

    >>> shifts_of_the_week({0: [("22:00", "06:00")]})[0][0][1] / timedelta(hours=1)
    30.0
    """
    days = tuple(tuple(sorted(map(_shift, shifts))) for shifts in _seven_days(week))
    if not any(days):
        raise ComputeError("week", week, "a week with at least one shift")
    _refuse_overlaps(days)
    return days


def _seven_days(week: Week) -> list[list[tuple[Clock, Clock]]]:
    if isinstance(week, Mapping):
        keys = [whole("week", day, at_least=0, at_most=6) for day in week]
        given = dict(zip(keys, week.values(), strict=True))
        days: list[Iterable[tuple[Clock, Clock]]] = [given.get(day, ()) for day in range(7)]
    else:
        days = list(some("week", week, at_least=7, at_most=7))
    return [some("week", shifts, at_least=0, at_most=48) for shifts in days]


def _shift(given: Iterable[Clock]) -> Shift:
    starts, ends = (_past_midnight(clock) for clock in some("week", given, at_least=2, at_most=2))
    if starts >= A_DAY or starts == ends:
        raise ComputeError("week", given, "a shift that starts before 24:00 and ends at another time")
    return starts, ends if ends > starts else ends + A_DAY


def _past_midnight(clock: Clock) -> timedelta:
    if isinstance(clock, time) and clock.tzinfo is None:
        return timedelta(hours=clock.hour, minutes=clock.minute, seconds=clock.second)
    if isinstance(clock, str):
        return _written(clock)
    if isinstance(clock, time):
        raise ComputeError("week", clock, "a time of day on the shop's wall, without a time zone")
    hours = number("week", clock, at_least=0, at_most=24, unit="hours after midnight, or a time of day")
    return timedelta(seconds=round(hours * 3600))


def _written(clock: str) -> timedelta:
    found = WRITTEN.fullmatch(clock)
    past = timedelta(hours=int(found[1]), minutes=int(found[2])) if found else 2 * A_DAY
    if past > A_DAY:
        raise ComputeError("week", clock, "a time of day written like 08:30, at most 24:00")
    return past


def _refuse_overlaps(days: ShiftWeek) -> None:
    """Lay the shifts on one line, the first once more a week later, and look at neighbours."""
    line = [(day * A_DAY + start, day * A_DAY + end) for day in range(7) for start, end in days[day]]
    starts, ends = line[0]
    line.append((starts + 7 * A_DAY, ends + 7 * A_DAY))
    for (_, ends), (starts, _) in pairwise(line):
        if starts < ends:
            weekday = starts // A_DAY % 7
            raise ComputeError("week", f"overlapping shifts on weekday {weekday}", "shifts one after another")
