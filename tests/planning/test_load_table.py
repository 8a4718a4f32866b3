"""Hours wanted against hours to be had: lines are laid over the weeks in which their bench is staffed."""

from __future__ import annotations

from datetime import date, timedelta

import pytest

from shopflow.common import clock
from shopflow.compute.calendar import IsoWeek
from shopflow.planning.measures import LendAHand, to_data
from shopflow.planning.models import ClosedDay, Leave, Plan
from shopflow.planning.selectors.fronts import ready_hours, weeks_before
from shopflow.planning.selectors.load import behind, load_table
from shopflow.workshop.models import Task
from shopflow.workshop.services import snags
from tests import cast

from .crew_cast import MONDAY, hand, line, plan

pytestmark = pytest.mark.django_db
W49, W50 = IsoWeek(2026, 49), IsoWeek(2026, 50)


@pytest.fixture
def task():
    cast.shop(hands_on_share="0.50")
    op = cast.operation(at=cast.department())
    return cast.task(op, on=cast.instrument(by=cast.manager()), by=cast.manager("Nell Harker"))


@pytest.fixture
def finn(task):
    return hand("Finn Tarrow", task.department)


def cells(made=None, *, now=MONDAY):
    return load_table(made, now=now).rows[0].cells


def test_hours_to_be_had_are_the_shops_share_of_the_paid_ones(finn):
    hand("Greta Lunt", finn.home, hours=6)
    assert cells()[0].to_be_had == pytest.approx((5 * 8 + 5 * 6) * 0.5)


def test_closed_days_and_leave_are_missing_from_the_hours(finn):
    ClosedDay.objects.create(day=date(2026, 12, 1))
    Leave.objects.create(person=finn, first_day=date(2026, 12, 9), last_day=date(2026, 12, 10))
    this, following = cells()[:2]
    assert this.to_be_had == pytest.approx(4 * 8 * 0.5)
    assert following.to_be_had == pytest.approx(3 * 8 * 0.5)


def test_of_this_week_only_what_is_left_counts(finn):
    wednesday_noon = MONDAY + timedelta(days=2, hours=4)
    assert cells(now=wednesday_noon)[0].to_be_had == pytest.approx((4 + 8 + 8) * 0.5)


def test_a_line_within_a_week_stays_there(finn, task):
    made = plan()
    line(made, task, MONDAY, MONDAY + timedelta(hours=8), 4)
    assert [cell.wanted for cell in cells(made)[:2]] == [4, 0]


def test_a_line_over_the_weekend_is_split_by_the_hours_staffed(finn, task):
    """Friday noon to Tuesday noon: 4 of Friday, 8 of Monday, 4 of Tuesday: a quarter before the weekend."""
    made = plan()
    friday_noon = MONDAY + timedelta(days=4, hours=4)
    line(made, task, friday_noon, friday_noon + timedelta(days=4), 8)
    shown = cells(made)
    assert [cell.wanted for cell in shown[:2]] == pytest.approx([2, 6])
    assert [cell.tasks for cell in shown[:3]] == [1, 1, 0]


def test_what_is_past_is_not_wanted_any_more(finn, task):
    made = plan()
    line(made, task, MONDAY, MONDAY + timedelta(hours=8), 4)
    assert cells(made, now=MONDAY + timedelta(hours=6))[0].wanted == pytest.approx(1)
    assert cells(made, now=MONDAY + timedelta(days=1))[0].wanted == 0


def test_a_line_beyond_the_weeks_shown_is_counted_as_later(finn, task):
    made = plan()
    line(made, task, MONDAY + timedelta(weeks=13), MONDAY + timedelta(weeks=13, hours=8), 4)
    row = load_table(made, now=MONDAY).rows[0]
    assert row.later == pytest.approx(4)
    assert sum(cell.wanted for cell in row.cells) == 0


def test_work_that_was_signed_since_is_not_wanted(finn, task):
    made = plan()
    line(made, task, MONDAY, MONDAY + timedelta(hours=8), 4)
    cast.walk(task, by=finn, until="proving")
    cast.send(task, "signed", by=cast.manager("Otto Vale"))
    assert cells(made)[0].wanted == 0
    assert behind(made, task.department, W49, now=MONDAY) == []


def test_the_tasks_behind_a_cell_add_up_to_it(finn, task):
    made = plan()
    friday_noon = MONDAY + timedelta(days=4, hours=4)
    line(made, task, friday_noon, friday_noon + timedelta(days=4), 8)
    (here,) = behind(made, task.department, W49, now=MONDAY)
    (there,) = behind(made, task.department, W50, now=MONDAY)
    assert (here.hours, there.hours) == pytest.approx((2, 6))
    assert (here.goes_on, here.came_on, there.goes_on, there.came_on) == (True, False, False, True)


def test_a_draft_is_shown_with_the_hands_it_tries(finn, task):
    other = cast.department("action")
    ada = hand("Ada Lund", other, others=(finn.home,))
    tried = LendAHand(ada.pk, finn.home_id, date(2026, 12, 7), date(2026, 12, 11))
    made = plan(state=Plan.State.DRAFT, measures=to_data([tried]))
    shown = {row.department.pk: row.cells for row in load_table(made, now=MONDAY).rows}
    assert [cell.to_be_had for cell in shown[finn.home_id][:3]] == [20, 40, 20]
    assert [cell.to_be_had for cell in shown[other.pk][:3]] == [20, 0, 20]


def test_what_a_cell_says_in_words(finn, task):
    made = plan()
    line(made, task, MONDAY, MONDAY + timedelta(hours=38), 19.5)
    second = cast.task(task.operation, on=cast.instrument(), by=cast.manager("Otto Vale"))
    line(made, second, MONDAY + timedelta(days=7), MONDAY + timedelta(days=7, hours=8), 4)
    ClosedDay.objects.bulk_create(ClosedDay(day=date(2026, 12, 14 + n)) for n in range(5))
    shown = cells(made)
    assert [(cell.percent, cell.word) for cell in shown[:4]] == [
        (98, "full"),
        (20, "thin"),
        (None, "closed"),
        (0, "idle"),
    ]
    assert shown[0].depth > shown[1].depth > shown[3].depth


def test_a_bench_with_work_and_nobody_says_so(task):
    made = plan()
    line(made, task, MONDAY, MONDAY + timedelta(hours=8), 4)
    row = load_table(made, now=MONDAY).rows[0]
    assert (row.cells[0].word, row.load.word) == ("no hands", "no hands")


def test_starving_and_swamped_by_the_work_ready_in_front(finn, task):
    """2 h ready against 20 h a week is half a day; five hundred uprights of 2 h are ten weeks."""
    assert [row.department.code for row in load_table(None, now=MONDAY).starving] == ["refinishing"]
    cast.crowd(100)
    table = load_table(None, now=MONDAY)
    assert [row.department.code for row in table.swamped] == ["refinishing"]
    assert table.starving == []
    assert table.rows[0].load.days == pytest.approx((101 * 2) / 20 * 5)


# --- swamped by a rise, and no plan ---


def days_in_front(task, *, now_days, before):
    """A bench with so many days of work ready, and so many one to three weeks before the plan."""
    paid = 5 * 8 * 0.5
    task.hours_likely = task.hours_high = now_days * paid / 5
    task.save()
    figures = {"fronts": {str(task.department_id): [days * paid / 5 for days in before]}}
    return load_table(plan(figures=figures), now=MONDAY).rows[0]


def test_a_bench_whose_work_rises_three_weeks_running_is_swamped(finn, task):
    row = days_in_front(task, now_days=12, before=[6, 8, 10])
    assert (row.load.word, row.word) == ("", "swamped")


@pytest.mark.parametrize(
    "before", [[6, 10, 8], [12, 12, 12], [11.7, 11.8, 11.9], [8, 10], []], ids=str
)  # fmt: skip
def test_ups_and_downs_do_not_swamp_a_bench(finn, task, before):
    assert days_in_front(task, now_days=12, before=before).word == ""


def test_a_bench_that_starves_starves_even_when_its_work_rises(finn, task):
    assert days_in_front(task, now_days=4, before=[1, 2, 3]).word == "starving"


def test_without_a_plan_nothing_is_said_of_what_is_wanted(finn):
    cell = cells()[0]
    assert (cell.percent, cell.word, cell.depth) == (None, "", 0)
    assert cells(plan())[0].percent == 0


def test_hours_ready_in_past_weeks_come_from_the_ledger(task, finn):
    """Laid out, stopped for a week, gone on with, taken into the rest: by the ledger of each moment."""
    piano, maud = task.instrument, cast.manager("Mina Roth")
    later = cast.task(cast.operation("colour", at=task.department), on=piano, by=maud, needs=[task])
    Task.objects.update(created_at=MONDAY - timedelta(weeks=5))
    hours = float(task.hours_likely)
    with clock.at(MONDAY - timedelta(weeks=4)):
        snag = snags.raise_snag(task=task, cause="part", reason="hinge", ask_again_on=clock.today(), by=maud)
    with clock.at(MONDAY - timedelta(weeks=2, days=3)):
        snags.clear_snag(snag=snag, by=maud)
    with clock.at(MONDAY - timedelta(weeks=1, days=3)):
        cast.send(task, "stripped", by=finn)
    told = ready_hours(weeks_before(MONDAY))
    assert told == [{}, {task.department_id: hours}, {task.department_id: hours}]
    with clock.at(MONDAY - timedelta(days=3)):
        cast.walk(task, by=finn)
    assert ready_hours([MONDAY]) == [{task.department_id: float(later.hours_likely)}]


def test_the_ledger_agrees_with_what_the_boards_say_now(task, finn):
    cast.crowd(7)
    now = load_table(None, now=MONDAY).rows[0].load
    assert ready_hours([clock.now()])[0][task.department_id] == pytest.approx(float(now.hours_ready))
