"""How far a count or a share can be trusted: exact and score intervals, without a statistics library."""

from __future__ import annotations

from collections.abc import Callable
from math import exp, lgamma, log, sqrt
from statistics import NormalDist
from typing import NamedTuple

from shopflow.compute.errors import ComputeError
from shopflow.compute.guards import number, whole

LARGEST_COUNT = 1_000_000


class Interval(NamedTuple):
    """A lower and an upper limit."""

    lower: float
    upper: float


def poisson_interval(count: int, confidence: float = 0.95) -> Interval:
    """Tell within which limits the true mean lies when so many were counted (exact).

    Parameters: `count`, finished instruments or other independent events, 0 to 1,000,000; `confidence`, more
    than 0 and less than 1. Result: Interval of the mean, in counts. Errors: ComputeError for other input.
    Source: F. Garwood, "Fiducial limits for the Poisson distribution", Biometrika 28 (1936) 437-442.

    >>> lower, upper = poisson_interval(25)
    >>> round(lower, 2), round(upper, 2)
    (16.18, 36.9)
    """
    count = whole("count", count, at_least=0, at_most=LARGEST_COUNT)
    tail = (1 - _confidence(confidence)) / 2
    lower = 0.0 if count == 0 else _solve(lambda mean: _gamma_below(count, mean) - tail, count)
    upper = _solve(lambda mean: tail - _gamma_above(count + 1, mean), count + 1)
    return Interval(lower, upper)


def wilson_interval(successes: int, trials: int, confidence: float = 0.95) -> Interval:
    """Tell within which limits the true share lies, such as the share of instruments delivered as promised.

    Parameters: `successes`, 0 to `trials`; `trials`, 1 or more; `confidence`, more than 0 and less than 1.
    Result: Interval of the share, 0 to 1. Errors: ComputeError for other input.
    Source: E. B. Wilson (1927); method 3 of R. G. Newcombe, Statistics in Medicine 17 (1998) 857-872.

    >>> lower, upper = wilson_interval(81, 263)
    >>> round(lower, 4), round(upper, 4)
    (0.2553, 0.3662)
    """
    trials = whole("trials", trials, at_least=1, at_most=10**12)
    successes = whole("successes", successes, at_least=0, at_most=trials)
    z = NormalDist().inv_cdf(0.5 + _confidence(confidence) / 2)
    share, spread = successes / trials, z * z / trials
    middle = (share + spread / 2) / (1 + spread)
    reach = sqrt(spread * share * (1 - share) + spread * spread / 4) / (1 + spread)
    # When all succeeded the upper limit is exactly 1; the sum alone can leave a crumb.
    return Interval(middle - reach, 1.0 if successes == trials else middle + reach)


def _confidence(given: float) -> float:
    value = number("confidence", given, above=0, below=1)
    if value > 1 - 1e-12:
        raise ComputeError("confidence", given, "a number more than 0 and less than 1, such as 0.95")
    return value


def _solve(rising: Callable[[float], float], near: float) -> float:
    """Find where a rising function of a positive number crosses zero, by halving."""
    low, high = 0.0, float(near)
    while rising(high) < 0:
        low, high = high, 2 * high
    for _ in range(200):
        middle = (low + high) / 2
        if middle in (low, high):
            break
        low, high = (middle, high) if rising(middle) < 0 else (low, middle)
    return (low + high) / 2


def _gamma_below(shape: int, x: float) -> float:
    """Regularised lower incomplete gamma function: the chance of `shape` or more events when x are usual."""
    return _below_by_series(shape, x) if x < shape + 1 else 1 - _above_by_fraction(shape, x)


def _gamma_above(shape: int, x: float) -> float:
    """Regularised upper incomplete gamma function: the chance of fewer than `shape` when x are usual."""
    return 1 - _below_by_series(shape, x) if x < shape + 1 else _above_by_fraction(shape, x)


def _below_by_series(shape: int, x: float) -> float:
    """Add x^k / (shape + 1)...(shape + k): all terms positive, quick while x is below the shape."""
    if x <= 0:
        return 0.0
    term = total = 1.0
    step = shape
    while term > total * 1e-17:
        step += 1
        term *= x / step
        total += term
    return total * _density(shape, x) / shape


def _above_by_fraction(shape: int, x: float) -> float:
    """Evaluate the continued fraction of the upper function from the front, quick while x is above the shape.

    Source: NIST Digital Library of Mathematical Functions, 8.9.2 (contracted); Lentz's way of evaluation.
    """
    base = x + 1 - shape
    c, d = 1e300, 1 / base
    value = d
    for k in range(1, 100_000):
        part = -k * (k - shape)
        base += 2
        d = 1 / (part * d + base)
        c = base + part / c
        value *= c * d
        if abs(c * d - 1) < 1e-15:
            break
    return value * _density(shape, x)


def _density(shape: int, x: float) -> float:
    """Give x^shape e^-x / (shape - 1)!, by logarithms so that nothing overflows."""
    return exp(shape * log(x) - x - lgamma(shape))
