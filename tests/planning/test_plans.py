"""Plans: made whole or not at all, published once, and the last good one stays."""

from __future__ import annotations

from dataclasses import replace
from datetime import date, timedelta
from itertools import combinations

import pytest
from django.core.exceptions import PermissionDenied

from shopflow.catalogue.models import Operation
from shopflow.common import clock, job_runs, jobs
from shopflow.common.models import Job
from shopflow.common.refusals import Refused
from shopflow.planning import background
from shopflow.planning.measures import HoldBack, LendAHand, WorkMore, from_data
from shopflow.planning.models import ExtraHours, Hold, Loan, Plan
from shopflow.planning.problem import Unplannable
from shopflow.planning.selectors.plans import published
from shopflow.planning.services import drafts, plans
from tests import cast

from .crew_cast import MONDAY, hand

pytestmark = pytest.mark.django_db
W50 = date(2026, 12, 7), date(2026, 12, 13)


@pytest.fixture(autouse=True)
def monday():
    with clock.at(MONDAY):
        yield


@pytest.fixture
def maud(db):
    cast.shop()
    return cast.manager()


@pytest.fixture
def otto(db):
    return cast.manager("Otto Vale")


@pytest.fixture
def task(maud):
    bench = cast.department()
    hand("Finn Tarrow", bench)
    piano = cast.instrument(by=maud, number="214", promised_on=date(2026, 12, 4))
    return cast.task(cast.operation(at=bench), on=piano, by=maud)


@pytest.fixture
def nerys(task):
    return hand("Nerys Holm", cast.department("action"), others=(task.department,))


def made(*measures, publish=False, by="Maud Ferrier"):
    return plans.make_plan(by_name=by, measures=measures, seconds=0.0, publish=publish)


def lend(nerys, task):
    return LendAHand(nerys.pk, task.department_id, *W50)


def test_a_plan_keeps_its_lines_its_outlook_and_the_ledger_line_it_knew(task):
    finn = task.department.home_of.get()
    cast.send(task, "stripped", by=finn)
    plan = made(publish=True)
    assert plan.last_move == task.moves.get().pk
    first, second = plan.lines.order_by("part")
    assert first.ends_at <= second.starts_at
    outlook = plan.outlooks.get()
    assert outlook.p10 <= outlook.p50 <= outlook.p90
    assert 0 <= outlook.odds <= 1
    assert plan.figures["promises"] == 1


def test_a_draft_says_what_its_measures_do_by_the_same_dice(task, nerys):
    plan = made(WorkMore(task.department.home_of.get().pk, 2.0, *W50))
    assert plan.state == Plan.State.DRAFT
    assert set(plan.figures["same_dice"]) == {"before", "after"}
    assert "same_dice" not in made().figures


def test_publishing_puts_the_measures_into_the_crews_book(task, nerys, maud):
    made(publish=True)
    finn = task.department.home_of.get()
    draft = made(
        lend(nerys, task), WorkMore(finn.pk, 1.5, *W50), HoldBack(task.instrument_id, date(2026, 12, 7))
    )
    assert not Loan.objects.exists()
    plans.publish(plan=draft, by=maud)
    loan, more, hold = Loan.objects.get(), ExtraHours.objects.get(), Hold.objects.get()
    assert (loan.person, loan.department, loan.first_day, loan.last_day) == (nerys, task.department, *W50)
    assert (more.person, float(more.hours_a_day)) == (finn, 1.5)
    assert (hold.instrument, hold.until) == (task.instrument, date(2026, 12, 7))
    assert "Maud Ferrier" in loan.note
    assert published() == draft


def test_of_two_drafts_the_second_to_publish_is_shown_the_difference(task, nerys, maud, otto):
    made(publish=True)
    mine, theirs = made(lend(nerys, task)), made(HoldBack(task.instrument_id, date(2027, 1, 4)))
    plans.publish(plan=theirs, by=otto)
    with pytest.raises(plans.PublishedMeanwhile) as late:
        plans.publish(plan=mine, by=maud)
    assert late.value.status == 409
    assert late.value.now == theirs
    assert any(line.startswith("214 ") and "sooner" in line for line in late.value.lines)
    mine.refresh_from_db()
    assert mine.state == Plan.State.DRAFT
    assert not Loan.objects.exists()
    assert published() == theirs


def test_what_cannot_take_effect_any_more_is_refused_and_nothing_is_published(task, nerys, maud):
    before = made(publish=True)
    draft = made(lend(nerys, task))
    Loan.objects.create(person=nerys, department=task.department, first_day=W50[0], last_day=W50[0])
    with pytest.raises(Refused, match="In that time Nerys Holm lends a hand"):
        plans.publish(plan=draft, by=maud)
    assert published() == before
    assert Loan.objects.count() == 1


@pytest.mark.parametrize("measures", [[], [HoldBack(0, date(2026, 12, 2))]])
def test_no_two_lines_of_a_plan_or_draft_have_one_part_of_a_piano(task, nerys, maud, measures):
    """Two benches, three pianos, four pieces of work on each that no tie puts in order."""
    cast.line("wire", "off", "on")
    cast.says(task.operation, at=["body", "loose"], rest_holds=True)
    codes = {"mend": ["body"], "glue": ["body", "keys"], "ease": ["keys"]}
    for code, at in codes.items():
        cast.says(cast.operation(code, at=nerys.home if code == "ease" else task.department), at=at)
    for piano in [task.instrument, cast.instrument(by=maud), cast.instrument(by=maud)]:
        for code in ("strip", *codes):
            if piano != task.instrument or code != "strip":
                cast.task(Operation.objects.get(code=code), on=piano, by=maud)
    hand("Ida Maskell", task.department)
    lines = made(*(replace(one, instrument=task.instrument_id) for one in measures)).lines.all()
    shared = 0
    for one, other in combinations(lines, 2):
        held = [set(line.task.operation.state["at"]) for line in (one, other)]
        if one.instrument_id == other.instrument_id and held[0] & held[1]:
            first, then = sorted((one, other), key=lambda line: line.starts_at)
            rested = first.rest_until if first.task.operation.code == "strip" else None
            assert (rested or first.ends_at) <= then.starts_at
            shared += 1
    assert shared > 20


def test_todays_plan_that_did_not_know_a_draft_published_meanwhile_is_made_again(task, nerys, maud):
    """A manager publishes a loan while the night's plan is computed: the loan must not be lost."""
    made(publish=True)
    draft = made(lend(nerys, task))
    tried = []

    def someone_publishes(words, best, tries):
        if not tried:
            plans.publish(plan=draft, by=maud)
        tried.append(words)
        return True

    plan = background._made(by_name="night", seconds=0.0, publish=True, on_progress=someone_publishes)
    assert len(tried) == 2
    assert published() == plan
    assert plan.beside == draft
    assert Loan.objects.get().person == nerys


def test_an_unplannable_house_leaves_the_last_good_plan(task, maud):
    good = made(publish=True)
    cast.task(cast.operation("regulate", at=cast.department("action")), on=task.instrument, by=maud)
    with pytest.raises(Unplannable, match=r"Action has no hands .* 214 \(promised 04 Dec\)"):
        made(publish=True)
    assert published() == good
    assert Plan.objects.count() == 1


def test_only_the_office_publishes_and_drops(task):
    draft = made()
    finn = task.department.home_of.get()
    for deed in (plans.publish, plans.drop_draft):
        with pytest.raises(PermissionDenied):
            deed(plan=draft, by=finn)
    with pytest.raises(PermissionDenied):
        drafts.again(draft, by=finn)
    draft.refresh_from_db()
    assert draft.state == Plan.State.DRAFT


def test_a_stopped_search_keeps_the_best_so_far(task, maud):
    job = jobs.enqueue("plan", by=maud, unique="shop", by_name=maud.name, publish=True, seconds=60.0)
    run = job_runs.take(job.pk)
    Job.objects.filter(pk=job.pk).update(stop_asked=True)
    made_plan = background.make_plan(run, **job.args)
    assert run.stopped()
    assert published().pk == made_plan["plan"]
    assert published().tries == 0


def test_a_draft_made_again_takes_the_place_of_the_one_before(task, nerys, maud):
    first = made(lend(nerys, task))
    job = drafts.add_to(first, measure=HoldBack(task.instrument_id, date(2026, 12, 7)), by=maud)
    first.refresh_from_db()
    assert first.state == Plan.State.DRAFT
    Job.objects.update(args=job.args | {"seconds": 0.0})
    job_runs.run(job.pk)
    first.refresh_from_db()
    second = Plan.objects.get(state=Plan.State.DRAFT)
    assert first.state == Plan.State.DROPPED
    assert from_data(second.measures) == [lend(nerys, task), HoldBack(task.instrument_id, date(2026, 12, 7))]


def test_what_is_in_a_draft_is_not_added_twice_and_nonsense_is_not_tried(task, nerys, maud):
    draft = made(lend(nerys, task))
    with pytest.raises(Refused, match="in this draft already"):
        drafts.add_to(draft, measure=lend(nerys, task), by=maud)
    strange = LendAHand(nerys.pk, cast.department("stringing").pk, *W50)
    with pytest.raises(Refused, match="cannot work in Stringing"):
        drafts.try_on_paper(measures=[strange], by=maud)
    with pytest.raises(Refused, match="allowed is 1 to 20"):
        drafts.try_on_paper(measures=[], by=maud)


def test_old_plans_are_forgotten_and_what_stands_is_kept(task):
    old = made(publish=True)
    stands = made(publish=True)
    old.refresh_from_db()
    assert old.state == Plan.State.PAST
    with clock.at(MONDAY + timedelta(weeks=9)):
        plans.forget_old_plans()
    assert list(Plan.objects.all()) == [stands]
