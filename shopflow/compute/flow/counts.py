"""What was finished week by week, and how long it took."""

from __future__ import annotations

import math
from collections import Counter
from collections.abc import Iterable
from dataclasses import dataclass
from datetime import date, datetime, tzinfo

from shopflow.compute.calendar import IsoWeek
from shopflow.compute.errors import ComputeError
from shopflow.compute.guards import number, some

MOST = 1e12


def weekly_counts(
    finished: Iterable[date | datetime],
    first: IsoWeek | None = None,
    last: IsoWeek | None = None,
    zone: tzinfo | None = None,
) -> dict[IsoWeek, int]:
    """Count what was finished in each ISO week; weeks without any are there with a 0.

    Parameters: `finished`, one date per instrument, or aware moments together with the shop's `zone`; `first`
    and `last`, the weeks to cover (default: from the earliest to the latest finish; others are left out).
    Result: every week in order with its count; empty if there is nothing to cover.
    Errors: ComputeError for what is no date, or moments without a zone. Source: ISO 8601 weeks.

    >>> counts = weekly_counts([date(2026, 11, 23), date(2026, 11, 27), date(2026, 12, 8)])
    >>> {str(week): count for week, count in counts.items()}
    {'2026-W48': 2, '2026-W49': 0, '2026-W50': 1}
    """
    found = Counter(_week(each, zone) for each in some("finished", finished, at_least=0))
    first, last = first or min(found, default=None), last or max(found, default=None)
    if first is None or last is None:
        return {}
    return {week: found[week] for week in _known_week("first", first).until(last)}


def percentile(values: Iterable[float], share: float) -> float:
    """Give the value below which a share of the values lies, read between neighbours in a straight line.

    Parameters: `values`, any numbers of one unit; `share`, 0 to 1 (0.85 = the 85th percentile).
    Result: float in the values' unit. Errors: ComputeError without values, or for a share outside 0 to 1.
    Source: definition 7 of R. J. Hyndman and Y. Fan, "Sample quantiles in statistical packages", The American
    Statistician 50 (1996) 361-365: place (n - 1) x share in the sorted values.

    >>> percentile([30, 10, 20, 40], 0.5)
    25.0
    """
    return percentiles(values, [share])[0]


def percentiles(values: Iterable[float], shares: Iterable[float]) -> list[float]:
    """Give several percentiles of the same values at once.

    Parameters, errors and source as for `percentile`. Result: one float per share, in the order asked.

    >>> percentiles([30, 10, 20, 40], [0, 0.5, 1])
    [10.0, 25.0, 40.0]
    """
    ordered = sorted(
        number("values", value, at_least=-MOST, at_most=MOST) for value in some("values", values)
    )
    wanted = [number("share", share, at_least=0, at_most=1) for share in some("shares", shares, at_least=0)]
    return [_at_place(ordered, (len(ordered) - 1) * share) for share in wanted]


@dataclass(frozen=True, slots=True)
class LeadTimes:
    """How long finished work took, in the unit of the values: half, 85 and 95 of a hundred were no longer."""

    count: int
    mean: float
    shortest: float
    median: float
    p85: float
    p95: float
    longest: float


def lead_time_summary(lead_times: Iterable[float]) -> LeadTimes | None:
    """Sum up how long finished work took.

    Parameters: `lead_times`, 0 or more each, all in one unit such as days. Result: LeadTimes in that unit, or
    None if nothing is finished yet. Errors: ComputeError for negative or impossible times.
    Source: percentiles by definition 7 of Hyndman and Fan (1996), see `percentile`.

    >>> lead_time_summary([20, 10, 30]).median
    20.0
    """
    times = [
        number("lead_times", time, at_least=0, at_most=MOST)
        for time in some("lead_times", lead_times, at_least=0)
    ]
    if not times:
        return None
    shortest, median, p85, p95, longest = percentiles(times, [0, 0.5, 0.85, 0.95, 1])
    mean = math.fsum(time / len(times) for time in times)
    return LeadTimes(len(times), mean, shortest, median, p85, p95, longest)


def _week(finished: date | datetime, zone: tzinfo | None) -> IsoWeek:
    if not isinstance(finished, date):
        raise ComputeError("finished", finished, "dates, or moments with their time zone")
    if not isinstance(finished, datetime):
        return IsoWeek.of(finished)
    if zone is None:
        raise ComputeError("zone", zone, "the shop's time zone, when moments rather than dates are counted")
    return IsoWeek.at(finished, zone)


def _known_week(field: str, week: object) -> IsoWeek:
    if not isinstance(week, IsoWeek):
        raise ComputeError(field, week, "an IsoWeek")
    return week


def _at_place(ordered: list[float], place: float) -> float:
    below = math.floor(place)
    above = min(below + 1, len(ordered) - 1)
    read = ordered[below] + (ordered[above] - ordered[below]) * (place - below)
    return min(read, ordered[above])
