"""The control chart for single values: what is ordinary week-to-week variation, and what is not."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from itertools import groupby, pairwise
from math import fsum, isclose

from shopflow.compute.errors import ComputeError
from shopflow.compute.guards import number, some

D2 = 1.128  # Mean range of two normal values in standard deviations, as printed in control chart tables.
D4 = 3.267
RUN = 8


@dataclass(frozen=True, slots=True)
class NaturalLimits:
    """The centre line and limits of an individuals chart, in the unit of the values."""

    mean: float
    lower: float
    upper: float
    mean_moving_range: float
    moving_range_upper: float
    moving_ranges: tuple[float, ...]


@dataclass(frozen=True, slots=True)
class Signal:
    """Something on the chart that ordinary variation hardly explains: where it is, and a sentence for it."""

    kind: str
    first: int
    last: int
    words: str


def natural_limits(values: Iterable[float]) -> NaturalLimits:
    """Draw the limits between which single values wander when nothing has changed (XmR chart).

    Parameters: `values`, two or more in the order of time, one unit, such as instruments per week.
    Result: NaturalLimits in that unit. The lower limit may lie below zero even for counts; it is left so.
    Errors: ComputeError for fewer than two values or impossible ones.
    Source: NIST/SEMATECH e-Handbook of Statistical Methods, 6.3.2.2: mean +- 3 x mean moving range / 1.128;
    limit of the moving range 3.267 x its mean.

    >>> limits = natural_limits([49.6, 47.6, 49.9, 51.3, 47.8, 51.2, 52.6, 52.4, 53.6, 52.1])
    >>> round(limits.mean, 2), round(limits.lower, 4), round(limits.upper, 4)
    (50.81, 45.8159, 55.8041)
    """
    points = _points(values, at_least=2)
    ranges = tuple(abs(later - earlier) for earlier, later in pairwise(points))
    mean, mean_range = _mean(points), _mean(ranges)
    reach = 3 * mean_range / D2
    return NaturalLimits(mean, mean - reach, mean + reach, mean_range, D4 * mean_range, ranges)


def signals(values: Iterable[float], limits: NaturalLimits | None = None) -> list[Signal]:
    """Tell which points of the chart ask for a reason: outside the limits, or a run of eight on one side.

    A point on the centre line ends a run. Each run is told once, with its whole length.

    Parameters: `values` in the order of time; `limits`, for example those of a quiet past (default: drawn
    from the values themselves).
    Result: signals in order, `kind` "outside" or "run", `first` and `last` counted from 0, `words` to show.
    Errors: ComputeError as for `natural_limits`. Source: rules 1 and 4 of the Western Electric Statistical
    Quality Control Handbook (1956), from memory; also NIST/SEMATECH e-Handbook 6.3.2, from memory.

    >>> [signal.words for signal in signals([3, 4, 3, 4, 9, 3, 4, 3, 4, 3, 4, 4])]
    ['9 is above the upper limit 8.59']
    """
    points = _points(values, at_least=2 if limits is None else 0)
    if limits is None:
        limits = natural_limits(points)
    elif not isinstance(limits, NaturalLimits):
        raise ComputeError("limits", limits, "limits drawn by natural_limits")
    found = [*_outside(points, limits), *_runs(points, limits.mean)]
    return sorted(found, key=lambda signal: (signal.first, signal.kind))


def _outside(points: Sequence[float], limits: NaturalLimits) -> list[Signal]:
    found = []
    for place, value in enumerate(points):
        if _side(value, limits.upper) > 0:
            words = f"{_said(value)} is above the upper limit {_said(limits.upper)}"
            found.append(Signal("outside", place, place, words))
        elif _side(value, limits.lower) < 0:
            words = f"{_said(value)} is below the lower limit {_said(limits.lower)}"
            found.append(Signal("outside", place, place, words))
    return found


def _runs(points: Sequence[float], mean: float) -> list[Signal]:
    found, first = [], 0
    for side, group in groupby(points, key=lambda value: _side(value, mean)):
        length = len(list(group))
        if side and length >= RUN:
            where = "above" if side > 0 else "below"
            words = f"{length} in a row {where} the mean {_said(mean)}"
            found.append(Signal("run", first, first + length - 1, words))
        first += length
    return found


def _side(value: float, line: float) -> int:
    """Tell on which side of a line a value lies; rounding in the last digits counts as on the line."""
    if isclose(value, line, rel_tol=1e-9, abs_tol=1e-9):
        return 0
    return 1 if value > line else -1


def _said(value: float) -> str:
    return f"{round(value, 2):,g}"


def _points(values: Iterable[float], *, at_least: int) -> list[float]:
    given = some("values", values, at_least=at_least)
    return [number("values", value, at_least=-1e12, at_most=1e12) for value in given]


def _mean(values: Sequence[float]) -> float:
    return fsum(values) / len(values)
