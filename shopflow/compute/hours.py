"""Estimates that begin as the catalogue's and become the shop's own as its work is finished."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from math import exp, fsum, log
from typing import NamedTuple

from shopflow.compute.errors import ComputeError
from shopflow.compute.flow import percentiles
from shopflow.compute.guards import number, some

MOST = 10_000
LEAST = 1e-3
PRIOR_JOBS = 5.0
FARTHEST = 4.0


class ThreePoint(NamedTuple):
    """Mean and standard deviation of a three-point estimate, in its unit."""

    mean: float
    sd: float


@dataclass(frozen=True, slots=True)
class HoursEstimate:
    """What a piece of work will take, in hours, and what that rests on.

    `weight` is the share of the shop's own history in it, 0 (catalogue alone) to nearly 1; `n` the finished
    jobs behind it; `reined_in` how many of them lay so far out that they were not taken at face value.
    """

    low: float
    likely: float
    high: float
    mean: float
    weight: float
    n: int
    reined_in: int


def three_point(low: float, likely: float, high: float) -> ThreePoint:
    """Give mean and standard deviation of work that takes low, likely or high hours.

    Parameters: `low` <= `likely` <= `high`, hours, 0.001 to 10,000. Result: ThreePoint in hours.
    Errors: ComputeError for hours out of order or out of range.
    Source: PERT, D. G. Malcolm and others, Operations Research 7 (1959) 646-669 (from memory):
    mean (low + 4 likely + high) / 6, standard deviation (high - low) / 6.

    >>> three_point(5, 8, 14)
    ThreePoint(mean=8.5, sd=1.5)
    """
    low, likely, high = _in_order(low, likely, high)
    return ThreePoint((low + 4 * likely + high) / 6, (high - low) / 6)


def learn(
    low: float,
    likely: float,
    high: float,
    observed: Iterable[float],
    *,
    prior_jobs: float = PRIOR_JOBS,
) -> HoursEstimate:
    """Move an estimate from the catalogue's figures to the shop's own as evidence grows.

    The model is our own, plain on purpose, and works with ratios (logarithms), as hours spread by ratios:

    1. The likely figure moves from the catalogue's to the middle one of the shop's jobs. With n jobs it gets
       the weight n / (n + prior_jobs): the catalogue counts as much as `prior_jobs` finished jobs.
    2. How far low, high and mean lie from likely moves the same way, to the shop's tenth and ninetieth
       percentile and mean, but slower, with (n - 1) / (n - 1 + 2 prior_jobs): one job says nothing of spread.
    3. A job more than four times, or less than a quarter of, the likely figure of step 1 counts as just that
       far out: a forgotten clock or an hour typed as a minute cannot carry the estimate away.

    Without evidence the catalogue's own figures come back, with the PERT mean. More hours in any job never
    lower any figure. Which jobs are alike enough to learn from is for the caller to say.

    Parameters: `low` <= `likely` <= `high`, the catalogue's hours, 0.001 to 10,000; `observed`, hours of
    finished jobs, 0.001 to 10,000 each; `prior_jobs`, 0.1 to 1,000.
    Result: HoursEstimate in hours. Errors: ComputeError naming what is out of order or out of range.
    Source: own model; mean of the catalogue by `three_point`, percentiles by `flow.percentile`.

    >>> learn(4, 6, 10, []).likely
    6.0
    >>> found = learn(4, 6, 10, [9, 8.5, 9.5, 8, 10])
    >>> round(found.low, 1), round(found.likely, 1), round(found.high, 1), found.weight
    (5.4, 7.3, 10.8, 0.5)
    """
    low, likely, high = _in_order(low, likely, high)
    jobs = [_hours("observed", each) for each in some("observed", observed, at_least=0)]
    prior = number("prior_jobs", prior_jobs, at_least=0.1, at_most=1000, unit="jobs")
    mean = three_point(low, likely, high).mean
    if not jobs:
        return HoursEstimate(low, likely, high, mean, 0.0, 0, 0)
    weight = len(jobs) / (len(jobs) + prior)
    spread_weight = (len(jobs) - 1) / (len(jobs) - 1 + 2 * prior)
    believed = _reined_in(jobs, near=_blend(likely, _middle(jobs), weight))
    own_low, own_likely, own_high, own_mean = _figures(believed)
    learned = _blend(likely, own_likely, weight)

    def away(catalogue: float, own: float) -> float:
        return learned * _blend(catalogue / likely, own / own_likely, spread_weight)

    reined_in = sum(job != taken for job, taken in zip(jobs, believed, strict=True))
    figures = away(low, own_low), learned, away(high, own_high), away(mean, own_mean)
    return HoursEstimate(*figures, weight, len(jobs), reined_in)


def _blend(catalogue: float, own: float, weight: float) -> float:
    """Mix two figures by ratio: half way between 4 and 9 lies 6."""
    return catalogue ** (1 - weight) * own**weight


def _reined_in(jobs: Sequence[float], near: float) -> list[float]:
    return [min(max(job, near / FARTHEST), near * FARTHEST) for job in jobs]


def _figures(jobs: Sequence[float]) -> tuple[float, float, float, float]:
    """Give low, likely, high and mean of finished jobs; the mean never lies outside low and high."""
    low, likely, high = (exp(place) for place in percentiles(map(log, jobs), [0.1, 0.5, 0.9]))
    mean = fsum(jobs) / len(jobs)
    return low, likely, high, min(max(mean, low), high)


def _middle(jobs: Sequence[float]) -> float:
    return exp(percentiles(map(log, jobs), [0.5])[0])


def _in_order(low: float, likely: float, high: float) -> tuple[float, float, float]:
    low, likely, high = _hours("low", low), _hours("likely", likely), _hours("high", high)
    if likely < low:
        raise ComputeError("likely", likely, f"at least the low figure, {low:g} hours")
    if high < likely:
        raise ComputeError("high", high, f"at least the likely figure, {likely:g} hours")
    return low, likely, high


def _hours(field: str, given: object) -> float:
    return number(field, given, at_least=LEAST, at_most=MOST, unit="hours")
