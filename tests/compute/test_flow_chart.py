"""The control chart agrees with the e-Handbook and tells ordinary weeks from others."""

import math
from itertools import pairwise

import pytest
from hypothesis import given
from hypothesis import strategies as st

from shopflow.compute.errors import ComputeError
from shopflow.compute.flow import natural_limits, signals

# NIST/SEMATECH e-Handbook of Statistical Methods, 6.3.2.2: flow rates of ten batches.
FLOW_RATES = [49.6, 47.6, 49.9, 51.3, 47.8, 51.2, 52.6, 52.4, 53.6, 52.1]
# Jet engine diameters, cm, from a statistics package manual; its limits were computed with d2 = 1.128379.
DIAMETERS = [
    78.4, 80.1, 84.4, 79.1, 80.4, 83.5, 73.8, 83.5, 75.0, 76.8,
    70.5, 80.3, 82.4, 79.4, 86.4, 90.5, 77.7, 82.5, 79.9, 83.2,
]  # fmt: skip
counts = st.lists(st.floats(-1e6, 1e6), min_size=2, max_size=60)


def test_the_limits_of_the_e_handbook():
    limits = natural_limits(FLOW_RATES)
    assert limits.moving_ranges == pytest.approx([2.0, 2.3, 1.4, 3.5, 3.4, 1.4, 0.2, 1.2, 1.5])
    assert round(limits.mean, 2) == 50.81
    assert round(limits.mean_moving_range, 4) == 1.8778
    assert (round(limits.upper, 4), round(limits.lower, 4)) == (55.8041, 45.8159)
    assert round(limits.moving_range_upper, 4) == 6.1347
    assert not [signal for signal in signals(FLOW_RATES) if signal.kind == "outside"]


def test_the_limits_of_a_second_data_set():
    limits = natural_limits(DIAMETERS)
    assert limits.mean == pytest.approx(80.39)
    assert limits.mean_moving_range == pytest.approx(5.326316, abs=5e-7)
    # 1.128379 there against the tabulated 1.128 here moves a limit by 0.005.
    assert (limits.upper, limits.lower) == (
        pytest.approx(94.55098, abs=0.006),
        pytest.approx(66.22902, abs=0.006),
    )


@given(counts)
def test_limits_stand_evenly_about_the_mean(values):
    limits = natural_limits(values)
    assert limits.lower <= limits.mean <= limits.upper
    assert limits.upper - limits.mean == pytest.approx(limits.mean - limits.lower, abs=1e-6)
    assert list(limits.moving_ranges) == [abs(later - earlier) for earlier, later in pairwise(values)]


@given(counts, st.floats(-1e6, 1e6))
def test_shifting_all_weeks_shifts_the_limits_with_them(values, shift):
    limits, moved = natural_limits(values), natural_limits([value + shift for value in values])
    assert moved.upper == pytest.approx(limits.upper + shift, rel=1e-9, abs=1e-3)


def test_a_week_outside_the_old_limits_is_told_with_its_figure():
    (found,) = signals([50, 56, 50], limits=natural_limits(FLOW_RATES))
    assert (found.kind, found.first, found.last) == ("outside", 1, 1)
    assert found.words == "56 is above the upper limit 55.8"
    (low,) = signals([45.5], limits=natural_limits(FLOW_RATES))
    assert low.words == "45.5 is below the lower limit 45.82"


@pytest.mark.parametrize(("length", "told"), [(7, 0), (8, 1), (12, 1)])
def test_a_run_is_told_once_from_eight_on(length, told):
    found = signals([51, *[50] * length, 51], limits=natural_limits(FLOW_RATES))
    assert len(found) == told
    for run in found:
        assert (run.kind, run.first, run.last) == ("run", 1, length)
        assert run.words == f"{length} in a row below the mean 50.81"


def test_a_point_on_the_line_ends_a_run():
    level = natural_limits([4, 6, 4, 6])
    assert level.mean == 5
    assert signals([6, 6, 6, 6, 5, 6, 6, 6, 6], limits=level) == []


@given(st.floats(-1e6, 1e6), st.integers(2, 40))
def test_weeks_that_are_all_alike_give_no_signal(value, weeks):
    assert signals([value] * weeks) == []


@pytest.mark.parametrize("wrong", [[], [5], [5, math.nan], [5, math.inf], [5, True], "56", [5, "6"], None])
def test_too_few_or_impossible_values_are_refused(wrong):
    with pytest.raises(ComputeError) as caught:
        natural_limits(wrong)
    assert caught.value.field == "values"


def test_limits_must_come_from_the_chart():
    with pytest.raises(ComputeError, match="natural_limits"):
        signals([1, 2], limits=(0, 10))
