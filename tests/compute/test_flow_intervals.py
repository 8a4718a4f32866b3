"""Intervals for counts and shares agree with published tables and with an independent library."""

import math

import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy import stats

from shopflow.compute.errors import ComputeError
from shopflow.compute.flow import poisson_interval, wilson_interval

confidences = st.floats(0.01, 0.9999)

# Exact method of F. Garwood, Biometrika 28 (1936). Published in a statistics vendor's method note, an R
# package manual and a calculator page; each row is (count, confidence, lower, upper, printed decimals).
PUBLISHED_POISSON = [
    (0, 0.95, 0, 3.689, 3),
    (10, 0.95, 4.80, 18.39, 2),
    (25, 0.90, 17.38, 34.92, 2),
    (25, 0.95, 16.18, 36.90, 2),
    (25, 0.99, 14.00, 41.00, 2),
]
# Same method, computed from the chi-square quantiles (no printed source seen).
COMPUTED_POISSON = [
    (0, 0.90, 0, 2.9957, 4),
    (5, 0.90, 1.9701, 10.5130, 4),
    (5, 0.95, 1.6235, 11.6683, 4),
    (5, 0.99, 1.0779, 14.1498, 4),
    (50, 0.90, 38.9647, 63.2871, 4),
    (50, 0.95, 37.1110, 65.9188, 4),
    (50, 0.99, 33.6638, 71.2661, 4),
]
# R. G. Newcombe, Statistics in Medicine 17 (1998) 857-872, Table I, method 3.
PUBLISHED_WILSON = [
    (81, 263, 0.2553, 0.3662),
    (15, 148, 0.0624, 0.1605),
    (0, 20, 0.0000, 0.1611),
    (1, 29, 0.0061, 0.1718),
]
# Same formula, computed (no printed source seen).
COMPUTED_WILSON = [(5, 10, 0.2366, 0.7634), (0, 10, 0, 0.2775), (50, 100, 0.4038, 0.5962)]


@pytest.mark.parametrize(
    ("count", "confidence", "lower", "upper", "decimals"), PUBLISHED_POISSON + COMPUTED_POISSON
)
def test_the_poisson_interval_rounds_to_every_listed_digit(count, confidence, lower, upper, decimals):
    found = poisson_interval(count, confidence)
    assert (round(found.lower, decimals), round(found.upper, decimals)) == (lower, upper)


@given(st.integers(0, 5000), confidences)
def test_the_poisson_interval_agrees_with_chi_square_quantiles(count, confidence):
    tail = (1 - confidence) / 2
    found = poisson_interval(count, confidence)
    assert found.upper == pytest.approx(stats.chi2.isf(tail, 2 * count + 2) / 2, rel=1e-9)
    assert found.lower == pytest.approx(stats.chi2.ppf(tail, 2 * count) / 2 if count else 0, rel=1e-9)


@given(st.integers(0, 300), st.integers(1, 20), confidences)
def test_a_larger_count_moves_both_poisson_limits_up(count, more, confidence):
    fewer, further = poisson_interval(count, confidence), poisson_interval(count + more, confidence)
    assert fewer.lower < further.lower
    assert fewer.upper < further.upper


@given(st.integers(0, 300), confidences, confidences)
def test_more_confidence_never_narrows_the_poisson_interval(count, one, other):
    loose, sure = sorted((one, other))
    narrow, wide = poisson_interval(count, loose), poisson_interval(count, sure)
    assert wide.lower <= narrow.lower * (1 + 1e-12)
    assert wide.upper >= narrow.upper * (1 - 1e-12)


def test_a_very_large_count_comes_near_the_normal_interval():
    lower, upper = poisson_interval(1_000_000)
    assert (upper - lower) / 2 == pytest.approx(1.959964 * 1000, rel=0.001)


@pytest.mark.parametrize(("successes", "trials", "lower", "upper"), PUBLISHED_WILSON + COMPUTED_WILSON)
def test_the_wilson_interval_rounds_to_every_listed_digit(successes, trials, lower, upper):
    found = wilson_interval(successes, trials)
    assert (round(found.lower, 4), round(found.upper, 4)) == (lower, upper)


@given(st.integers(1, 5000).flatmap(lambda n: st.tuples(st.integers(0, n), st.just(n))), confidences)
def test_the_wilson_interval_agrees_with_the_reference_library(counts, confidence):
    successes, trials = counts
    expected = stats.binomtest(successes, trials).proportion_ci(confidence, method="wilson")
    found = wilson_interval(successes, trials, confidence)
    assert found.lower == pytest.approx(expected.low, abs=1e-9)
    assert found.upper == pytest.approx(expected.high, abs=1e-9)
    assert 0 <= found.lower <= successes / trials <= found.upper <= 1


@pytest.mark.parametrize(
    ("field", "wrong"),
    [
        ("count", lambda: poisson_interval(-1)),
        ("count", lambda: poisson_interval(2.5)),
        ("count", lambda: poisson_interval(True)),
        ("count", lambda: poisson_interval(10**7)),
        ("confidence", lambda: poisson_interval(5, 1)),
        ("confidence", lambda: poisson_interval(5, 0)),
        ("confidence", lambda: poisson_interval(5, math.nan)),
        ("confidence", lambda: poisson_interval(5, 1 - 1e-16)),
        ("trials", lambda: wilson_interval(0, 0)),
        ("successes", lambda: wilson_interval(6, 5)),
        ("successes", lambda: wilson_interval(-1, 5)),
        ("confidence", lambda: wilson_interval(1, 5, 95)),
    ],
)
def test_nonsense_is_refused_by_name(field, wrong):
    with pytest.raises(ComputeError) as caught:
        wrong()
    assert caught.value.field == field
