"""The year's target lies over the weeks that are worked, and over nothing else."""

from datetime import date, timedelta

import pytest
from hypothesis import given
from hypothesis import strategies as st

from shopflow.compute.calendar import IsoWeek, target_to_date, weeks_in_year, working_weeks
from shopflow.compute.errors import ComputeError

years = st.integers(2000, 2060)
closures = st.lists(st.dates(date(1999, 12, 20), date(2061, 1, 10)), max_size=60)


def test_a_holiday_takes_a_fifth_and_the_summer_closing_the_whole_week():
    summer = IsoWeek(2027, 31).days()
    shares = working_weeks(2027, closed=[*summer, date(2027, 5, 6)])
    assert shares[IsoWeek(2027, 31)] == 0
    assert shares[IsoWeek(2027, 18)] == 0.8
    assert sum(shares.values()) == pytest.approx(52 - 1 - 0.2)


def test_a_closed_sunday_changes_nothing_in_a_five_day_week():
    assert working_weeks(2026, closed=[date(2026, 5, 24)]) == working_weeks(2026)


def test_a_shop_that_works_saturdays_counts_six_days():
    shares = working_weeks(2026, closed=[date(2026, 5, 23)], weekdays=range(6))
    assert shares[IsoWeek(2026, 21)] == pytest.approx(5 / 6)


# By hand: 2026 has 53 weeks of 5 days = 265; two weeks closed leave 255; by Friday of week 10, 50 are worked.
def test_target_to_date_by_hand():
    shut = [*IsoWeek(2026, 30).days(), *IsoWeek(2026, 31).days()]
    assert target_to_date(70, 2026, on=date(2026, 3, 6), closed=shut) == pytest.approx(70 * 50 / 255)


def test_the_target_rests_while_the_shop_is_shut():
    shut = IsoWeek(2026, 30).days()
    before = target_to_date(70, 2026, on=IsoWeek(2026, 29).sunday(), closed=shut)
    assert target_to_date(70, 2026, on=IsoWeek(2026, 30).sunday(), closed=shut) == before


@given(years, closures, st.floats(0, 500))
def test_it_starts_at_nothing_and_ends_at_the_target(year, closed, target):
    last = IsoWeek(year, weeks_in_year(year)).sunday()
    assert target_to_date(target, year, on=IsoWeek(year, 1).monday() - timedelta(days=1), closed=closed) == 0
    assert target_to_date(target, year, on=last, closed=closed) == target


@given(years, closures, st.integers(-10, 380), st.integers(0, 30))
def test_it_never_falls(year, closed, passed, further):
    day = date(year, 1, 1) + timedelta(days=passed)
    later = day + timedelta(days=further)
    assert target_to_date(70, year, on=day, closed=closed) <= target_to_date(
        70, year, on=later, closed=closed
    )


@given(years, closures)
def test_the_weeks_of_the_year_are_all_there_in_order(year, closed):
    shares = working_weeks(year, closed=closed)
    assert list(shares) == [IsoWeek(year, week) for week in range(1, weeks_in_year(year) + 1)]
    assert all(0 <= share <= 1 for share in shares.values())


def test_a_year_without_an_open_day_has_no_target_line():
    shut = [date(2025, 12, 29) + timedelta(days=passed) for passed in range(371)]
    with pytest.raises(ComputeError, match="open day"):
        target_to_date(70, 2026, on=date(2026, 5, 1), closed=shut)
