"""Who is there by the hour, against weeks worked out by hand."""

from __future__ import annotations

from datetime import UTC, date, datetime
from zoneinfo import ZoneInfo

import pytest

from shopflow.planning.measures import LendAHand, WorkMore
from shopflow.planning.models import ClosedDay, ExtraHours, Leave, Loan
from shopflow.planning.selectors.hands import crew_book, hands_by_hour, hours_by_week, spells
from tests import cast

from .crew_cast import MONDAY, hand

pytestmark = pytest.mark.django_db
LONDON = ZoneInfo("Europe/London")
# Clock hours from Monday 08:00 to 08:00 of each day of the week.
MON, TUE, WED, THU, FRI = (24.0 * day for day in range(5))


@pytest.fixture
def refinishing(db):
    return cast.department()


@pytest.fixture
def action(db):
    return cast.department("action")


@pytest.fixture
def greta(refinishing, action):
    return hand("Greta Lunt", refinishing, others=(action,))


def steps(of, *measures, now=MONDAY, weeks=1):
    book = crew_book(first=now.date(), measures=measures)
    return hands_by_hour(book, now=now, zone=LONDON, weeks=weeks).get(of.pk)


def open_hours(now=MONDAY, weeks=1):
    return spells(crew_book(first=now.date()), now=now, zone=LONDON, weeks=weeks)


def test_the_shop_is_open_while_anybody_works(greta, action):
    hand("Ada Lund", action, hours=6)
    assert open_hours()[:5] == [(day, day + 8) for day in (MON, TUE, WED, THU, FRI)]


def test_a_shorter_day_ends_the_hands_of_a_bench_before_the_shop_closes(greta, refinishing):
    hand("Finn Tarrow", refinishing, hours=6)
    assert steps(refinishing)[:4] == [(0.0, 2), (6.0, 1), (TUE, 2), (TUE + 6, 1)]


def test_leave_takes_the_hands_of_whole_days(greta, refinishing):
    hand("Finn Tarrow", refinishing)
    Leave.objects.create(person=greta, first_day=date(2026, 12, 1), last_day=date(2026, 12, 2))
    assert steps(refinishing)[:3] == [(0.0, 2), (TUE, 1), (THU, 2)]


def test_a_loan_moves_the_hands_and_brings_them_back(greta, refinishing, action):
    hand("Finn Tarrow", refinishing)
    Loan.objects.create(
        person=greta, department=action, first_day=date(2026, 12, 2), last_day=date(2026, 12, 3)
    )
    assert steps(refinishing)[:3] == [(0.0, 2), (WED, 1), (FRI, 2)]
    assert steps(action)[:3] == [(0.0, 0), (WED, 1), (THU + 8, 0)]


def test_extra_hours_make_the_day_longer_for_one(greta, refinishing):
    hand("Finn Tarrow", refinishing)
    ExtraHours.objects.create(
        person=greta, hours_a_day=2, first_day=date(2026, 12, 1), last_day=date(2026, 12, 1)
    )
    assert open_hours()[1] == (TUE, TUE + 10)
    assert steps(refinishing)[:3] == [(0.0, 2), (TUE + 8, 1), (WED, 2)]


def test_what_is_tried_goes_before_what_is_agreed(greta, refinishing, action):
    hand("Finn Tarrow", refinishing)
    Loan.objects.create(
        person=greta, department=action, first_day=date(2026, 12, 1), last_day=date(2026, 12, 1)
    )
    tried = LendAHand(greta.pk, refinishing.pk, date(2026, 12, 1), date(2026, 12, 1))
    assert steps(refinishing)[:2] == [(0.0, 2), (TUE, 1)]
    assert steps(refinishing, tried)[0] == (0.0, 2)
    assert {hands for _, hands in steps(refinishing, tried)} == {2}


def test_a_measure_leaves_the_book_of_the_next_try_alone(greta, refinishing):
    week = crew_book(first=MONDAY.date())
    tried = crew_book(
        first=MONDAY.date(), measures=[WorkMore(greta.pk, 2.0, date(2026, 12, 1), date(2026, 12, 2))]
    )
    for _ in range(2):
        assert hours_by_week(week, first=MONDAY.date(), weeks=1, share=1)[refinishing.pk] == [40.0]
        assert hours_by_week(tried, first=MONDAY.date(), weeks=1, share=1)[refinishing.pk] == [44.0]


def test_a_week_worked_out_by_hand(greta, refinishing, action):
    """Greta: Mon 8, Tue 8 lent, Wed away, Thu closed, Fri 8 + 1.5. Finn: 6 a day but Thursday."""
    hand("Finn Tarrow", refinishing, hours=6)
    Loan.objects.create(
        person=greta, department=action, first_day=date(2026, 12, 1), last_day=date(2026, 12, 1)
    )
    Leave.objects.create(person=greta, first_day=date(2026, 12, 2), last_day=date(2026, 12, 2))
    ClosedDay.objects.create(day=date(2026, 12, 3))
    ExtraHours.objects.create(
        person=greta, hours_a_day="1.5", first_day=date(2026, 12, 4), last_day=date(2026, 12, 4)
    )
    table = hours_by_week(crew_book(first=MONDAY.date()), first=MONDAY.date(), weeks=1, share=0.5)
    assert table[refinishing.pk] == [pytest.approx((8 + 9.5 + 4 * 6) * 0.5)]
    assert table[action.pk] == [pytest.approx(4)]


def test_a_week_in_which_the_clocks_go_forward_loses_an_hour_of_the_night(greta, refinishing):
    """In London on Sunday 29 March 2026 at 01:00 (EU rule: last Sunday of March)."""
    friday = datetime(2026, 3, 27, 8, tzinfo=UTC)
    assert open_hours(friday)[:2] == [(0.0, 8.0), (71.0, 79.0)]


def test_a_week_in_which_the_clocks_go_back_gains_one(greta, refinishing):
    """In London on Sunday 25 October 2026 at 02:00."""
    friday = datetime(2026, 10, 23, 7, tzinfo=UTC)
    assert open_hours(friday)[:2] == [(0.0, 8.0), (73.0, 81.0)]


def test_a_plan_begun_at_noon_has_what_is_left_of_the_day(greta, refinishing):
    noon = datetime(2026, 11, 30, 12, tzinfo=UTC)
    assert open_hours(noon)[:2] == [(0.0, 4.0), (20.0, 28.0)]
    assert steps(refinishing, now=noon)[0] == (0.0, 1)


def test_who_is_stopped_or_has_no_home_bench_is_not_counted(greta, refinishing):
    hand("Finn Tarrow", refinishing)
    type(greta).objects.filter(pk=greta.pk).update(is_active=False)
    assert {hands for _, hands in steps(refinishing)} == {1}
