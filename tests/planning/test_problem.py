"""The shop as a problem: what has passed is not planned, what waits waits, and nonsense is named."""

from __future__ import annotations

from copy import copy
from datetime import date, timedelta
from decimal import Decimal
from itertools import pairwise

import pytest

from shopflow.catalogue.knowledge import knowledge
from shopflow.catalogue.models import Operation
from shopflow.common import clock
from shopflow.compute import schedule
from shopflow.planning.measures import HoldBack, LetGoOn
from shopflow.planning.models import Hold, KindSize, PartOnOrder, ScarceThing
from shopflow.planning.on_paper import PaperWork
from shopflow.planning.problem import Unplannable, read_house, shop_problem
from shopflow.workshop.models import Task, TaskNeed
from shopflow.workshop.services import snags
from tests import cast

from .crew_cast import MONDAY, hand

pytestmark = pytest.mark.django_db
# 08:00 on the Monday after.
NEXT_MONDAY = 7 * 24.0


@pytest.fixture(autouse=True)
def monday():
    with clock.at(MONDAY):
        yield


@pytest.fixture
def maud(db):
    cast.shop(hands_on_share="0.50")
    return cast.manager()


@pytest.fixture
def finn(maud):
    return hand("Finn Tarrow", cast.department())


@pytest.fixture
def operation(finn):
    """On the refinishing path there are two stretches: two benched stages, a rest, and the proving."""
    return cast.operation(at=finn.home)


@pytest.fixture
def piano(maud):
    return cast.instrument(by=maud, number="214")


@pytest.fixture
def task(operation, piano, maud):
    made = cast.task(operation, on=piano, by=maud)
    made.rest_hours = Decimal(30)
    made.save()
    return made


def jobs(*measures):
    return {job.id: job for job in shop_problem(MONDAY, measures).problem.jobs}


def test_a_task_is_a_job_for_each_stretch_with_its_rest_by_the_clock_between(task):
    made = jobs()
    first, second = made[task.pk, 0], made[task.pk, 1]
    assert first.hours == pytest.approx(2 * second.hours)
    assert dict(second.after) == {(task.pk, 0): 30.0}
    assert dict(first.after) == {}
    bench = {f"bench:{task.department_id}": 1}
    assert (first.needs, second.needs) == (bench, bench)


def test_hours_are_paid_ones_so_that_the_crews_hours_can_do_them(task):
    """The estimate's hands-on hours at a share of one half take twice as many paid hours."""
    asked = shop_problem(MONDAY)
    paid = sum(job.hours for job in asked.problem.jobs)
    assert paid == pytest.approx(2 * read_house(MONDAY).estimates[task.pk].mean)
    assert sum(asked.hours.values()) == pytest.approx(paid / 2)


def test_what_has_begun_is_under_way_and_what_was_passed_is_not_planned(task, finn):
    whole = jobs()[task.pk, 0]
    cast.send(task, "stripped", by=finn)
    begun = jobs()[task.pk, 0]
    assert (whole.under_way, begun.under_way, begun.hours) == (False, True, pytest.approx(whole.hours))
    cast.send(task, "built-up", by=finn)
    assert jobs()[task.pk, 0].hours == pytest.approx(whole.hours / 2)


def test_a_rest_that_has_begun_holds_what_comes_after_it(task, finn):
    with clock.at(MONDAY - timedelta(hours=10)):
        cast.walk(task, by=finn, until="hardening")
    (proving,) = jobs().values()
    assert proving.release == pytest.approx(20.0)
    assert proving.needs


def test_what_is_signed_or_dropped_is_gone(task, finn, maud):
    cast.walk(task, by=finn, until="proving")
    cast.send(task, "signed", by=maud)
    assert jobs() == {}


def test_a_task_waits_for_the_last_stretch_of_what_it_needs(task, maud):
    later = cast.task(cast.operation("sand", at=task.department), on=task.instrument, by=maud, needs=[task])
    assert dict(jobs()[later.pk, 0].after) == {(task.pk, 1): 0.0}


def test_only_the_end_of_an_instruments_work_is_due_at_closing_of_the_promised_day(task, maud, piano):
    later = cast.task(cast.operation("sand", at=task.department), on=piano, by=maud, needs=[task])
    piano.promised_on = date(2026, 12, 4)
    piano.save()
    due = {key: job.due for key, job in jobs().items()}
    assert due == {
        (task.pk, 0): None,
        (task.pk, 1): None,
        (later.pk, 0): None,
        (later.pk, 1): 4 * 24 + 9.0,
    }


def test_a_stopped_task_waits_for_the_day_on_which_it_is_asked_about(task, maud):
    snags.raise_snag(
        task=task,
        cause="part",
        reason="hinges missing",
        ask_again_on=date(2026, 12, 7),
        by=maud,
        owner=maud,
    )
    assert jobs()[task.pk, 0].release == NEXT_MONDAY


def test_an_overdue_part_is_not_expected_before_tomorrow(task):
    part = PartOnOrder.objects.create(
        task=task, what="hinges", ordered_on=date(2026, 11, 2), expected_on=date(2026, 11, 20)
    )
    assert jobs()[task.pk, 0].release == 24.0
    part.expected_on = date(2026, 12, 7)
    part.save()
    assert jobs()[task.pk, 0].release == NEXT_MONDAY
    part.arrived_on = date(2026, 11, 30)
    part.save()
    assert jobs()[task.pk, 0].release == 0.0


def test_a_held_instrument_begins_nothing_new_and_goes_on_with_what_is_begun(task, finn, maud, piano):
    second = cast.task(cast.operation("sand", at=task.department), on=piano, by=maud)
    cast.send(task, "stripped", by=finn)
    Hold.objects.create(instrument=piano, until=date(2026, 12, 7))
    made = jobs()
    assert (made[task.pk, 0].release, made[second.pk, 0].release) == (0.0, NEXT_MONDAY)


def test_holding_and_letting_go_can_be_tried_on_paper(task, piano):
    assert jobs(HoldBack(piano.pk, date(2026, 12, 7)))[task.pk, 0].release == NEXT_MONDAY
    Hold.objects.create(instrument=piano, until=date(2026, 12, 7))
    assert jobs(LetGoOn(piano.pk))[task.pk, 0].release == 0.0
    assert Hold.objects.count() == 1


def test_one_house_gives_each_try_its_own_problem(task, piano):
    house = read_house(MONDAY)
    held = HoldBack(piano.pk, date(2026, 12, 7))
    releases = [house.problem(tried).problem.jobs[0].release for tried in ([], [held], [])]
    assert releases == [0.0, NEXT_MONDAY, 0.0]


def test_a_scarce_thing_is_needed_while_hands_are_on_the_operation(task, operation):
    booth = ScarceThing.objects.create(code="booth", name="Spray booth", count=1)
    booth.operations.add(operation)
    asked = shop_problem(MONDAY)
    assert asked.problem.jobs[0].needs == {f"bench:{task.department_id}": 1, f"thing:{booth.pk}": 1}
    assert asked.problem.hands(f"thing:{booth.pk}") == 1


def test_two_hands_and_one_booth_plan_one_job_after_the_other(task, operation, maud):
    hand("Greta Lunt", task.department)
    cast.task(operation, on=cast.instrument(by=maud), by=maud)
    booth = ScarceThing.objects.create(code="booth", name="Spray booth", count=1)
    free = schedule.solve(shop_problem(MONDAY).problem, 60, "makespan", iterations=0)
    assert max(hands for _, _, hands in free.load(f"bench:{task.department_id}")) == 2
    booth.operations.add(operation)
    shared = schedule.solve(shop_problem(MONDAY).problem, 60, "makespan", iterations=0)
    assert max(hands for _, _, hands in shared.load(f"thing:{booth.pk}")) == 1
    assert max(hands for _, _, hands in shared.load(f"bench:{task.department_id}")) == 1


def test_a_kind_weighs_what_the_shop_says(task, piano):
    assert jobs()[task.pk, 0].weight == 1.0
    KindSize.objects.create(kind=piano.kind, size=Decimal("0.80"))
    assert jobs()[task.pk, 0].weight == 0.8


def test_a_department_without_hands_is_named_with_the_promise_it_breaks(task, maud, piano):
    piano.promised_on = date(2026, 12, 18)
    piano.save()
    cast.task(cast.operation("regulate", at=cast.department("action")), on=piano, by=maud)
    with pytest.raises(Unplannable, match=r"Action has no hands .* 214 \(promised 18 Dec\)\."):
        shop_problem(MONDAY)


def test_tasks_that_wait_for_each_other_are_named(task, maud):
    """Written behind the services' back, which would have refused it."""
    second, third = (
        cast.task(cast.operation(code, at=task.department), on=task.instrument, by=maud)
        for code in ("mend", "sand")
    )
    for one, other in ((task, second), (second, third), (third, task)):
        TaskNeed.objects.create(task=one, needs=other)
    with pytest.raises(Unplannable) as told:
        shop_problem(MONDAY)
    words = str(told.value)
    assert words.count(" waits for ") == 3
    for name in ("“214: Strip”", "“214: Mend”", "“214: Sand”"):
        assert name in words


class TestPartsOfThePiano:
    """Strip and mend have the body; the hammers are something else; papers are nobody's."""

    @pytest.fixture(autouse=True)
    def known(self, operation, finn):
        cast.line("wire", "off", "on")
        cast.says(operation, at=["body", "loose"], rest_holds=True)
        for code, at in (("mend", ["body"]), ("shape", ["hammers"]), ("write", ["desk"])):
            cast.says(cast.operation(code, at=finn.home), at=at)

    @pytest.fixture
    def other(self, task, maud):
        return lambda code: cast.task(Operation.objects.get(code=code), on=task.instrument, by=maud)

    def names(self, job):
        return {part for _, part in job.holds}

    def test_a_task_holds_what_the_catalogue_says_and_paper_holds_nothing(self, task, other):
        laid_out = {code: other(code).pk for code in ("mend", "shape", "write")}
        made = jobs()
        assert self.names(made[task.pk, 0]) == {"body", "loose"}
        assert {code: self.names(made[pk, 0]) for code, pk in laid_out.items()} == {
            "mend": {"body"},
            "shape": {"hammers"},
            "write": set(),
        }

    def test_each_instrument_has_parts_of_its_own(self, task, operation, maud):
        second = cast.task(operation, on=cast.instrument(by=maud), by=maud)
        assert not jobs()[task.pk, 0].holds & jobs()[second.pk, 0].holds

    def test_work_without_an_operation_holds_the_whole_case(self, task, maud):
        by_hand = cast.task(Operation.objects.get(code="mend"), on=task.instrument, by=maud)
        Task.objects.filter(pk=by_hand.pk).update(operation=None)
        assert self.names(jobs()[by_hand.pk, 0]) == {"body", "loose"}

    @pytest.mark.parametrize("holds", [True, False])
    def test_a_rest_keeps_the_parts_where_the_catalogue_says_so(self, task, operation, holds):
        cast.says(operation, at=["body"], rest_holds=holds)
        first, second = (jobs()[task.pk, part] for part in (0, 1))
        assert (first.keeps_hold, second.keeps_hold) == (30.0 if holds else 0.0, 0.0)
        assert self.names(first) == self.names(second) == {"body"}

    def test_what_rests_under_clamps_now_has_its_parts_already(self, task, other, operation, finn):
        second = other("mend")
        cast.walk(task, by=finn, until="hardening")
        assert (jobs()[task.pk, 0].holding, jobs()[task.pk, 0].release) == (True, 30.0)
        assert planned()[second.pk, 0] >= 30.0
        cast.says(operation, at=["body"], rest_holds=False)
        assert not jobs()[task.pk, 0].holding
        assert planned()[second.pk, 0] == 0.0

    def test_a_rest_that_is_over_gives_the_parts_to_whoever_comes(self, task, other, finn):
        second = other("mend")
        with clock.at(MONDAY - timedelta(hours=40)):
            cast.walk(task, by=finn, until="hardening")
        assert not jobs()[task.pk, 0].holding
        assert jobs()[second.pk, 0].holds

    def test_two_benches_take_turns_at_the_body_and_meanwhile_the_hammers_go_on(self, task, other, finn):
        """Three pairs of hands, and no tie between the three tasks."""
        hand("Greta Lunt", finn.home)
        hand("Ida Maskell", finn.home)
        body, hammers = other("mend"), other("shape")
        starts = planned()
        assert starts[hammers.pk, 0] == 0.0
        spells = held_in_plan({"body"})
        assert len(spells) == 2 + 2
        assert all(first[1] <= then[0] + 1e-6 for first, then in pairwise(spells))
        assert {task.pk, body.pk} == {pk for _, _, pk in spells}

    def test_work_on_paper_holds_its_parts_like_any_other(self, task, operation):
        paper = PaperWork()
        sketched = copy(task)
        estimate = read_house(MONDAY).estimates[task.pk]
        (number,) = paper.lay(task.instrument, [sketched], ties=(), estimates=[estimate], now=MONDAY)
        made = read_house(MONDAY).with_work(paper).problem().problem
        by_id = {job.id: job for job in made.jobs}
        assert by_id[number, 0].holds == by_id[task.pk, 0].holds


def planned(*measures):
    return schedule.solve(shop_problem(MONDAY, measures).problem, 60, "tardiness", iterations=0).start


def held_in_plan(parts: set[str]):
    """(from, to, task) of every stretch of a plan that holds one of these parts, by the catalogue."""
    asked = shop_problem(MONDAY)
    plan = schedule.solve(asked.problem, 60, "tardiness", iterations=100)
    found = []
    for pk, part in plan.start:
        task = asked.tasks[pk]
        known = knowledge(task.instrument.kind)
        if parts & known.parts_of(task.operation.code):
            rest = asked.rest_after[pk, part] if known.rest_holds(task.operation.code) else 0.0
            found.append((plan.start[pk, part], plan.finish[pk, part] + rest, pk))
    return sorted(found)


def test_an_instrument_that_has_left_is_not_planned(task, piano):
    piano.left_on = date(2026, 11, 27)
    piano.save()
    assert jobs() == {}


def test_the_plan_keeps_every_rule_and_every_rest(task, finn, maud, operation):
    """Twelve instruments of three tasks in a row on one bench, some begun, some promised."""
    for number in range(12):
        piano = cast.instrument(by=maud, number=f"K{number}", promised_on=date(2026, 12, 1 + number))
        first = cast.task(operation, on=piano, by=maud)
        first.rest_hours = Decimal(30)
        first.save()
        for code in ("mend", "sand"):
            op = type(operation).objects.filter(code=code).first() or cast.operation(code, at=finn.home)
            first = cast.task(op, on=piano, by=maud, needs=[first])
    asked = shop_problem(MONDAY)
    plan = schedule.solve(asked.problem, 60, "tardiness", iterations=200)
    assert plan.violations() == []
    rests = 0
    for job in asked.problem.jobs:
        for earlier, rest in job.after.items():
            assert plan.start[job.id] >= plan.finish[earlier] + rest - 1e-5
            rests += rest > 0
    assert rests == 13


def test_the_house_is_read_in_the_same_few_queries(task, django_assert_num_queries):
    read_house(MONDAY)  # what the catalogue knows is kept in memory from here on
    with django_assert_num_queries(31):
        read_house(MONDAY)
    cast.crowd(60)
    with django_assert_num_queries(31):
        house = read_house(MONDAY)
    with django_assert_num_queries(0):
        house.problem([HoldBack(task.instrument_id, date(2026, 12, 7))])
