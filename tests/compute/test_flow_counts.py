"""Weekly counts miss nothing at a week's edge; percentiles follow their stated definition."""

import math
from datetime import UTC, date, datetime, timedelta
from zoneinfo import ZoneInfo

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from shopflow.compute.calendar import IsoWeek
from shopflow.compute.errors import ComputeError
from shopflow.compute.flow import lead_time_summary, percentile, percentiles, weekly_counts

BERLIN = ZoneInfo("Europe/Berlin")
values = st.lists(st.floats(-1e6, 1e6), min_size=1, max_size=60)
shares = st.floats(0, 1)


def test_weeks_without_a_finished_piano_are_counted_as_none():
    done = [date(2026, 12, 28), date(2027, 1, 3), date(2027, 1, 11)]
    assert weekly_counts(done) == {IsoWeek(2026, 53): 2, IsoWeek(2027, 1): 0, IsoWeek(2027, 2): 1}


def test_asked_weeks_are_all_there_and_others_left_out():
    counts = weekly_counts([date(2026, 5, 4)], first=IsoWeek(2026, 20), last=IsoWeek(2026, 22))
    assert counts == {IsoWeek(2026, 20): 0, IsoWeek(2026, 21): 0, IsoWeek(2026, 22): 0}


def test_nothing_finished_covers_no_week():
    assert weekly_counts([]) == {}


def test_a_tap_late_on_sunday_counts_in_the_week_of_the_shops_clock():
    sunday_night = datetime(2026, 11, 29, 22, 59, 59, tzinfo=UTC)
    assert list(weekly_counts([sunday_night], zone=BERLIN)) == [IsoWeek(2026, 48)]
    assert list(weekly_counts([sunday_night + timedelta(seconds=1)], zone=BERLIN)) == [IsoWeek(2026, 49)]


@given(st.lists(st.dates(date(2020, 1, 1), date(2023, 12, 31)), min_size=1, max_size=60))
def test_every_instrument_is_counted_once(finished):
    counts = weekly_counts(finished)
    assert sum(counts.values()) == len(finished)
    assert list(counts) == list(min(counts).until(max(counts)))


@given(values, shares)
def test_percentiles_agree_with_the_reference_library(some_values, share):
    expected = np.percentile(some_values, share * 100, method="linear")
    assert percentile(some_values, share) == pytest.approx(expected, rel=1e-9, abs=1e-6)


@given(values, shares, shares)
def test_percentiles_rise_with_the_share_and_stay_among_the_values(some_values, one, other):
    lower, upper = percentiles(some_values, sorted((one, other)))
    assert min(some_values) <= lower <= upper <= max(some_values)


# By hand, definition 7: place (5 - 1) x 0.85 = 3.4, so 40 + 0.4 x 60 = 64; place 3.8, so 40 + 0.8 x 60 = 88.
def test_lead_times_by_hand():
    found = lead_time_summary([100, 20, 40, 10, 30])
    assert (found.count, found.mean, found.shortest, found.median, found.longest) == (5, 40, 10, 30, 100)
    assert (found.p85, found.p95) == (pytest.approx(64), pytest.approx(88))


def test_without_finished_work_there_is_no_lead_time():
    assert lead_time_summary([]) is None


@pytest.mark.parametrize(
    ("field", "wrong"),
    [
        ("finished", lambda: weekly_counts(["2026-05-04"])),
        ("finished", lambda: weekly_counts(None)),
        ("zone", lambda: weekly_counts([datetime(2026, 5, 4, tzinfo=UTC)])),
        ("moment", lambda: weekly_counts([datetime(2026, 5, 4)], zone=BERLIN)),  # noqa: DTZ001 - under test
        ("first", lambda: weekly_counts([date(2026, 5, 4)], first="2026-W20")),
        ("last", lambda: weekly_counts([date(2026, 5, 4)], last=20)),
        ("values", lambda: percentile([], 0.5)),
        ("values", lambda: percentile([math.nan], 0.5)),
        ("share", lambda: percentile([1], 50)),
        ("lead_times", lambda: lead_time_summary([-1])),
        ("lead_times", lambda: lead_time_summary([True])),
    ],
)
def test_nonsense_is_refused_by_name(field, wrong):
    with pytest.raises(ComputeError) as caught:
        wrong()
    assert caught.value.field == field
