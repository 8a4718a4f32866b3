"""What a forecast reckons with besides hours: rests and stops by the ledger, and what is begun later."""

from __future__ import annotations

from datetime import timedelta
from decimal import Decimal

import pytest

from shopflow.catalogue.models import Rest
from shopflow.common import clock
from shopflow.planning.problem import read_house, shop_problem
from shopflow.planning.running import run_forecast
from shopflow.planning.selectors.estimates import likeness
from shopflow.planning.selectors.rests import Rests, rests, triangle
from shopflow.planning.selectors.stops import LENGTHS, ODDS, stops
from shopflow.planning.services.waiting import order_part, part_arrived
from shopflow.workshop.models import HoursSpent, Move, Passage, Snag, Task
from shopflow.workshop.services import snags
from tests import cast

from .crew_cast import MONDAY, hand

pytestmark = pytest.mark.django_db
DAY = timedelta(days=1)


@pytest.fixture(autouse=True)
def monday():
    with clock.at(MONDAY):
        yield


@pytest.fixture
def maud(db):
    cast.shop()
    return cast.manager()


@pytest.fixture
def finn(maud):
    return hand("Finn Tarrow", cast.department())


@pytest.fixture
def glue(finn):
    """An operation whose glue rests 20 hours, 10 at the least, 40 at the most."""
    rest = Rest.objects.create(
        code="glue", name="Glue", hours_low=10, hours_likely=20, hours_high=40, basis="made up"
    )
    return cast.operation("glue", at=finn.home, rest=rest)


def laid_out(op, maud, number=None):
    piano = cast.instrument(by=maud, **({"number": number} if number else {}))
    return cast.task(op, on=piano, by=maud)


def stopped(task, maud, *, cause="customer", begun, lasted=None):
    with clock.at(MONDAY - begun * DAY):
        snag = snags.raise_snag(
            task=task, cause=cause, reason="sample", ask_again_on=clock.today() + DAY, by=maud
        )
    if lasted is not None:
        with clock.at(MONDAY - (begun - lasted) * DAY):
            snags.clear_snag(snag=snag, by=maud)
    return snag


class TestStops:
    def test_a_new_shop_takes_the_usual_guess_and_knows_it_for_one(self, maud):
        told = stops(MONDAY.date())
        assert (told.odds, told.lengths, list(told.now)) == (ODDS, LENGTHS, [])

    def test_its_own_stops_count_as_soon_as_there_are_five(self, glue, maud):
        for days in range(1, 6):
            stopped(laid_out(glue, maud), maud, begun=20, lasted=days)
        assert stops(MONDAY.date()).lengths == [24.0, 48.0, 72.0, 96.0, 120.0]

    def test_the_odds_are_those_of_signed_work_drawn_towards_the_guess(self, glue, finn, maud):
        for number in range(50):
            task = laid_out(glue, maud)
            if number < 10:
                Snag.objects.create(
                    task=task, cause="part", reason="hinge", owner=maud, ask_again_on=MONDAY.date(),
                    raised_by=maud, raised_at=MONDAY - DAY, cleared_at=MONDAY,
                )  # fmt: skip
            task.stage_id = task.path[-1]
            task.save()
        assert stops(MONDAY.date()).odds == pytest.approx((10 + 0.03 * 50) / 100)

    def test_one_that_is_open_lasts_like_those_that_were_not_cleared_by_its_age_either(self, glue, maud):
        for days in range(2, 10):
            stopped(laid_out(glue, maud), maud, begun=30, lasted=days)
        task = laid_out(glue, maud)
        stopped(task, maud, begun=3)
        (now,) = stops(MONDAY.date()).now
        assert now.hours == [24.0 * days for days in range(1, 7)]
        asked = shop_problem(MONDAY)
        assert asked.unstopped[task.pk, 0] == 0.0
        assert asked.chances.stops[task.pk, 0].odds == 1.0

    def test_of_one_of_which_nothing_is_known_the_day_stands(self, glue, maud):
        task = laid_out(glue, maud)
        stopped(task, maud, begun=0)
        asked = shop_problem(MONDAY)
        assert asked.unstopped == {}
        assert (task.pk, 0) not in asked.chances.stops

    def test_a_part_comes_as_late_as_others_came(self, glue, maud):
        task, today = laid_out(glue, maud), MONDAY.date()
        for late in range(5):
            with clock.at(MONDAY - 40 * DAY):
                part = order_part(
                    task=task, what=f"felt {late}", ordered_on=clock.today(),
                    expected_on=today - 20 * DAY, by=maud,
                )  # fmt: skip
            with clock.at(MONDAY - (20 - late) * DAY):
                part_arrived(part=part, by=maud)
        order_part(task=task, what="strings", ordered_on=today, expected_on=today + 7 * DAY, by=maud)
        (now,) = stops(today).now
        assert now.hours == [24.0 * days for days in range(7, 12)]

    def test_a_stop_makes_late_finishes_later_and_leaves_the_plan_alone(self, glue, maud):
        task = laid_out(glue, maud)
        calm = run_forecast(shop_problem(MONDAY), runs=200)
        for days in range(30, 40):
            stopped(laid_out(glue, maud), maud, begun=60, lasted=days)
        stopped(task, maud, begun=0)
        asked = shop_problem(MONDAY)
        wild = run_forecast(asked, runs=200)
        piano = task.instrument_id
        assert wild.groups[piano][0.1] > calm.groups[piano][0.9] + 20 * 24
        plan = next(job for job in asked.problem.jobs if job.id == (task.pk, 0))
        assert plan.release == pytest.approx(24)


class TestRests:
    def test_without_a_ledger_the_catalogues_triangle(self, glue, maud):
        shares = Rests().shares(laid_out(glue, maud))
        assert 0.5 < min(shares) < 0.65
        assert 1.7 < max(shares) < 2.0
        assert sum(shares) / len(shares) == pytest.approx((0.5 + 1 + 2) / 3, rel=0.02)

    def test_a_triangles_lengths_are_over_in_the_shares_told(self):
        # By hand: up to the mode lies (1 - 0.5) / (2 - 0.5) = 1/3 of a triangle 0.5 - 1 - 2.
        assert triangle(0.5, 2.0, 1 / 3) == pytest.approx(1.0)
        assert triangle(0.5, 2.0, 0.0) == 0.5

    def test_enough_of_the_shops_own_goes_before_the_catalogue(self, glue, finn, maud):
        for number in range(8):
            task = laid_out(glue, maud)
            began = MONDAY - (20 + number) * DAY
            with clock.at(began):
                cast.walk(task, by=finn, until="hardening")
            with clock.at(began + timedelta(hours=30)):
                cast.send(task, "proving", by=finn)
        seen = rests()
        assert seen.shares(task) == pytest.approx([1.5] * 8)
        assert set(Move.objects.values_list("task__operation__rest__code", flat=True)) == {"glue"}

    def test_a_clock_that_was_set_back_and_a_rest_without_measure_are_borne(self, glue, finn, maud):
        Rest.objects.filter(pk=glue.rest_id).update(hours_likely=1, hours_high=9000)
        glue.refresh_from_db()
        task = laid_out(glue, maud)
        cast.walk(task, by=finn, until="hardening")
        Task.objects.filter(pk=task.pk).update(earliest_touch=None)
        with clock.at(MONDAY - DAY):
            cast.send(task, "proving", by=finn)
        for _ in range(5):
            snag = stopped(laid_out(glue, maud), maud, begun=1, lasted=1)
            Snag.objects.filter(pk=snag.pk).update(cleared_at=MONDAY - 3 * DAY)
        assert stops(MONDAY.date()).lengths == [0.0] * 5
        assert run_forecast(shop_problem(MONDAY), runs=10).groups

    def test_what_rests_now_has_only_the_longer_ones_ahead(self, glue, finn, maud):
        task = laid_out(glue, maud)
        with clock.at(MONDAY - timedelta(hours=25)):
            cast.walk(task, by=finn, until="hardening")
        task.refresh_from_db()
        left = Rests({glue.rest_id: (0.5, 1.0, 1.5, 2.0) * 2}).left(task, MONDAY)
        assert sorted(set(left)) == [5.0, 15.0]

    def test_a_rest_over_every_length_known_is_over(self, glue, finn, maud):
        task = laid_out(glue, maud)
        with clock.at(MONDAY - timedelta(hours=90)):
            cast.walk(task, by=finn, until="hardening")
        task.refresh_from_db()
        assert Rests().left(task, MONDAY) == [0.0]


def test_hours_that_go_with_the_instrument_are_seen_as_shared(glue, finn, maud):
    ops = [glue, cast.operation("sand", at=finn.home), cast.operation("oil", at=finn.home)]
    for number in range(30):
        piano = cast.instrument(by=maud, number=f"L{number}")
        for op in ops:
            task = cast.task(op, on=piano, by=maud)
            task.stage_id = task.path[-1]
            task.save()
            HoursSpent.objects.create(
                task=task, person=finn, hours=Decimal(2 + number % 5), worked_on=MONDAY.date()
            )
    assert likeness() > 0.8


class TestWhatIsBegunMeanwhile:
    @pytest.fixture
    def history(self, finn, maud):
        """Five finished in the last half year."""
        op = cast.operation("sand", at=finn.home)
        for number in range(5):
            with clock.at(MONDAY - (30 + number) * DAY):
                task = laid_out(op, maud, number=f"H{number}")
                cast.walk(task, by=finn)
        assert Passage.objects.filter(kind=Passage.Kind.FINISHED).count() == 5

    def test_without_a_history_nothing_is_guessed(self, glue, maud):
        laid_out(glue, maud)
        assert shop_problem(MONDAY).meanwhile == []

    def test_as_many_come_as_were_finished_and_none_of_them_is_told_of(self, glue, maud, history):
        house = read_house(MONDAY)
        assert house.coming.per_week == pytest.approx(5 / 26, abs=0.05)
        mine = laid_out(glue, maud)
        asked = shop_problem(MONDAY)
        assert len({job.group for job in asked.meanwhile}) == 3
        assert all(job.release > 0 for job in asked.meanwhile if not job.after)
        assert all(job.group < 0 for job in asked.meanwhile)
        assert set(run_forecast(asked, runs=20).groups) == {mine.instrument_id}

    def test_a_bench_that_nobody_mans_any_more_does_not_spoil_the_forecast(self, glue, finn, maud, history):
        other = laid_out(cast.operation("regulate", at=hand("Ana", cast.department("action")).home), maud)
        finn.is_active = False
        finn.save()
        asked = shop_problem(MONDAY)
        assert asked.meanwhile == []
        assert set(run_forecast(asked, runs=20).groups) == {other.instrument_id}
