"""What would help most: every hand that is to hand is tried, and ranked by what it would do."""

from __future__ import annotations

from datetime import date

import pytest

from shopflow.common import clock, job_runs
from shopflow.common.models import Job
from shopflow.planning.measures import HoldBack, LendAHand, LetGoOn, WorkMore, from_data, to_data
from shopflow.planning.models import AnnualTarget, ExtraHours, Hold, Leave, Loan, Plan
from shopflow.planning.problem import read_house
from shopflow.planning.said import Names
from shopflow.planning.selectors.balance import _HandsMoved
from shopflow.planning.selectors.candidates import candidates
from shopflow.planning.services import balance, plans
from shopflow.planning.trying import Outcome, Paper
from tests import cast

from .crew_cast import MONDAY, hand

pytestmark = pytest.mark.django_db
HTMX = {"HX-Request": "true"}
BALANCE = "/load/balance/"


@pytest.fixture(autouse=True)
def monday():
    with clock.at(MONDAY):
        yield


@pytest.fixture
def maud(db):
    cast.shop()
    return cast.manager()


@pytest.fixture
def office(client, maud):
    client.force_login(maud)
    return client


@pytest.fixture
def bench(maud):
    made = cast.department()
    hand("Finn Tarrow", made)
    return made


@pytest.fixture
def nerys(bench):
    """Somebody of a bench without work, who can help at the one that drowns."""
    return hand("Nerys Holm", cast.department("action"), others=(bench,))


@pytest.fixture
def drowning(bench, maud, nerys):
    """Six instruments, promised for the end of next week, that take one hand three weeks."""
    AnnualTarget.objects.create(year=2026, instruments=6)
    op = cast.operation(at=bench, upright_low=12, upright_likely=14, upright_high=16)
    for _ in range(6):
        cast.task(op, on=cast.instrument(by=maud, promised_on=date(2026, 12, 11)), by=maud)
    return op


def found(job):
    job_runs.run(job.pk)
    job.refresh_from_db()
    return job.result


# --- what is tried ---


def test_every_hand_is_tried_at_every_bench_it_knows_that_has_work(drowning, nerys, bench):
    loans = [one for one in candidates(read_house(MONDAY)) if isinstance(one, LendAHand)]
    assert {(one.person, one.department) for one in loans} == {(nerys.pk, bench.pk)}
    assert len(loans) == 6 * 2
    assert {one.first_day.weekday() for one in loans} == {0}
    assert {(one.last_day - one.first_day).days for one in loans} == {6, 13}


def test_who_is_away_or_lent_or_works_more_already_is_not_tried_then(drowning, nerys, bench):
    Leave.objects.create(person=nerys, first_day=date(2026, 12, 7), last_day=date(2026, 12, 13))
    Loan.objects.create(
        person=nerys, department=bench, first_day=date(2026, 12, 14), last_day=date(2026, 12, 18)
    )
    ExtraHours.objects.create(
        person=nerys, hours_a_day=1, first_day=date(2026, 12, 7), last_day=date(2027, 1, 8)
    )
    tried = [one for one in candidates(read_house(MONDAY)) if getattr(one, "person", None) == nerys.pk]
    assert not [one for one in tried if isinstance(one, WorkMore)]
    assert min(one.first_day for one in tried) == date(2026, 12, 21)


def test_the_least_urgent_not_begun_are_held_and_the_held_let_go(drowning, bench):
    finn = bench.home_of.get()
    pianos = list(drowning.tasks.order_by("pk"))
    cast.send(pianos[0], "stripped", by=finn)
    Hold.objects.create(instrument=pianos[1].instrument, until=date(2027, 1, 4))
    tried = candidates(read_house(MONDAY))
    held = {one.instrument for one in tried if isinstance(one, HoldBack)}
    assert held == {task.instrument_id for task in pianos[2:]}
    assert [one for one in tried if isinstance(one, LetGoOn)] == [LetGoOn(pianos[1].instrument_id)]


# --- what comes of it ---


def test_the_same_house_and_dice_give_the_same_outcome(drowning):
    one, other = Paper.at(MONDAY), Paper.at(MONDAY)
    assert one.quickly() == other.quickly()
    assert one.quickly() == one.quickly()


def test_a_hand_more_saves_promises_and_an_idle_bench_saves_none(drowning, nerys, bench):
    paper = Paper.at(MONDAY)
    before = paper.carefully()
    lent = paper.carefully([LendAHand(nerys.pk, bench.pk, date(2026, 12, 7), date(2026, 12, 13))])
    idle = paper.carefully([WorkMore(nerys.pk, 2.0, date(2026, 12, 7), date(2026, 12, 13))])
    assert before.expected_late > lent.expected_late
    assert lent.better_than(before) > 0
    assert idle == before


def test_gains_count_promises_and_instruments_alike():
    before = Outcome(at_risk=3, expected_late=2.5, odds=0.4, mean=68.0)
    after = Outcome(at_risk=2, expected_late=2.0, odds=0.5, mean=68.25)
    assert after.better_than(before) == pytest.approx(0.75)
    assert Outcome(0, 2.0).better_than(Outcome(0, 2.5)) == pytest.approx(0.5)


def test_of_one_sort_only_the_best_few_get_a_second_look_and_equals_stand_together():
    def row(gain, measure):
        return gain, measure, Outcome(0, 10 - gain)

    week = date(2026, 12, 7), date(2026, 12, 13)
    rows = [row(n / 10, WorkMore(1, n / 10, *week)) for n in range(1, 8)]
    rows += [row(0.65, HoldBack(9, week[0])), row(-1.0, LetGoOn(4)), row(0.7, WorkMore(2, 1.0, *week))]
    chosen = balance.best_of_each_sort(rows)
    assert [one.measure for one in chosen] == [
        WorkMore(1, 0.7, *week),
        HoldBack(9, week[0]),
        WorkMore(1, 0.6, *week),
        WorkMore(1, 0.5, *week),
    ]
    assert chosen[0].alike == [WorkMore(2, 1.0, *week)]


def test_the_answer_is_ranked_with_the_figures_before_and_after(drowning, nerys, maud, bench):
    result = found(balance.ask(by=maud))
    assert result["tried"] == result["of"] == len(candidates(read_house(MONDAY)))
    gains = [row["gain"] for row in result["rows"]]
    assert gains == sorted(gains, reverse=True)
    best = from_data([result["rows"][0]["measure"]])[0]
    assert isinstance(best, LendAHand | WorkMore)
    assert result["rows"][0]["after"]["expected_late"] < result["before"]["expected_late"]
    assert set(result["before"]) == {"at_risk", "expected_late", "odds", "mean"}


def test_one_that_is_stopped_ranks_what_it_has_tried(drowning):
    told = []
    result = balance.find_what_helps(
        seed=0, progress=lambda *a, **k: told.append(k.get("note")), stopped=lambda: len(told) > 5
    )
    assert 0 < result["tried"] < result["of"]
    gains = [row["gain"] for row in result["rows"]]
    assert gains
    assert gains == sorted(gains, reverse=True)


def test_measures_in_words(nerys, bench):
    piano = cast.instrument(number="319")
    names = Names.for_measures([HoldBack(piano.pk, date(2026, 12, 7))])
    week = date(2026, 12, 7), date(2026, 12, 13)
    assert names.say(LendAHand(nerys.pk, bench.pk, *week)) == "Lend Nerys Holm to Refinishing in week 50"
    more = WorkMore(nerys.pk, 1.5, date(2026, 12, 7), date(2026, 12, 11))
    assert names.say(more) == "Nerys Holm works 1.5 h a day more from 7 Dec to 11 Dec"
    assert names.say(HoldBack(piano.pk, date(2026, 12, 7))) == "Hold 319 back until 7 Dec"
    assert names.say(LetGoOn(987654)) == "Let an instrument that is gone go on, which is held back"


# --- the pages ---

POSTS = ["ask/", "stop/", "try/"]


@pytest.mark.parametrize("who", [cast.stranger, cast.finisher])
def test_strangers_and_bench_hands_are_turned_away(client, who):
    client.force_login(who())
    assert client.get(BALANCE).status_code == 403
    for url in POSTS:
        assert client.post(BALANCE + url).status_code == 403
    assert not Job.objects.exists()


def test_before_anything_is_tried_the_page_says_so(office):
    assert "Nothing was tried yet" in office.get(BALANCE).content.decode()


def test_a_loan_says_whose_hours_it_moves_and_from_where(drowning, nerys, bench):
    """Nerys is away on two of the ten days; of eight paid hours five and a half are hands-on ones."""
    cast.shop(hands_on_share="0.70")
    Leave.objects.create(person=nerys, first_day=date(2026, 12, 10), last_day=date(2026, 12, 11))
    loan = LendAHand(nerys.pk, bench.pk, date(2026, 12, 7), date(2026, 12, 13))
    said = _HandsMoved.of([loan]).say(loan, Names.for_measures([loan]))
    assert said == "Nerys Holm has 17 h of hands-on work in that time, which Action goes without."


def test_the_list_has_words_figures_and_a_way_to_try_each_on_paper(office, drowning, nerys, maud):
    result = found(balance.ask(by=maud))
    page = office.get(BALANCE).content.decode()
    best = from_data([result["rows"][0]["measure"]])
    assert Names.for_measures(best).say(best[0]) in page
    assert f"{result['before']['expected_late']:.1f} → <b>" in page
    assert "Try on paper" in page


def test_while_it_runs_the_page_looks_again_each_second_and_stops_when_asked(office, drowning):
    shown = office.post(BALANCE + "ask/", headers=HTMX).content.decode()
    assert 'hx-trigger="every 1s"' in shown
    office.post(BALANCE + "stop/")
    assert Job.objects.get().state == Job.State.STOPPED
    over = office.get(BALANCE + "progress/", headers=HTMX)
    assert "every 1s" not in over.content.decode()
    assert "HX-Trigger" in over.headers


def trying(office, maud, drowning):
    """The best measure, tried on paper as the page does it; the draft that comes of it."""
    plans.make_plan(by_name="night", seconds=0.0, publish=True)
    job = balance.ask(by=maud)
    result = found(job)
    sent = {"found": job.pk, "row": 0}
    assert office.post(BALANCE + "try/", sent).status_code == 302
    paper = Job.objects.get(kind="plan")
    assert paper.args["measures"] == [result["rows"][0]["measure"]]
    Job.objects.filter(pk=paper.pk).update(args=paper.args | {"seconds": 0.0})
    assert "A draft is being made." in office.get(BALANCE).content.decode()
    job_runs.run(paper.pk)
    return Plan.objects.get(state=Plan.State.DRAFT)


def test_a_measure_goes_onto_paper_stands_beside_todays_plan_and_is_published(office, maud, drowning):
    today = Plan.objects.filter(state=Plan.State.PUBLISHED)
    draft = trying(office, maud, drowning)
    page = office.get(f"/load/drafts/{draft.pk}/").content.decode()
    for words in ("Today’s plan", "What it tries", "The load, today’s plan", "What would change"):
        assert words in page
    assert today.get() != draft
    answer = office.post(f"/load/drafts/{draft.pk}/publish/", follow=True)
    assert answer.redirect_chain[-1][0] == "/load/changes/"
    assert "Published." in answer.content.decode()
    assert "Agreed with it" in answer.content.decode()
    assert today.get() == draft


def test_the_second_to_publish_gets_409_and_the_difference_and_keeps_the_draft(office, maud, drowning):
    draft = trying(office, maud, drowning)
    hold = HoldBack(drowning.tasks.first().instrument_id, date(2027, 2, 1))
    theirs = plans.make_plan(by_name="Otto Vale", measures=[hold], seconds=0.0)
    plans.publish(plan=theirs, by=cast.manager("Otto Vale"))
    answer = office.post(f"/load/drafts/{draft.pk}/publish/")
    page = answer.content.decode()
    assert answer.status_code == 409
    assert "Otto Vale published another plan meanwhile" in page
    assert "sooner" in page
    draft.refresh_from_db()
    assert draft.state == Plan.State.DRAFT
    assert "Make it again beside today’s plan" in office.get(f"/load/drafts/{draft.pk}/").content.decode()
    assert office.post(f"/load/drafts/{draft.pk}/again/").status_code == 302
    assert Job.objects.filter(kind="plan", state=Job.State.QUEUED).get().args["instead_of"] == draft.pk


def test_a_dropped_draft_took_no_effect(office, maud, drowning):
    draft = trying(office, maud, drowning)
    assert office.post(f"/load/drafts/{draft.pk}/drop/").status_code == 302
    draft.refresh_from_db()
    assert draft.state == Plan.State.DROPPED
    assert not Loan.objects.exists()
    assert not ExtraHours.objects.exists()
    assert office.post(f"/load/drafts/{draft.pk}/again/").status_code == 404


def test_what_was_not_found_cannot_be_tried(office, maud, drowning):
    job = balance.ask(by=maud)
    found(job)
    for sent in ({}, {"found": job.pk, "row": 99}, {"found": 987654, "row": 0}, {"found": "x", "row": "y"}):
        assert office.post(BALANCE + "try/", sent).status_code == 404
    draft = {"found": job.pk, "row": 0, "draft": 987654}
    assert office.post(BALANCE + "try/", draft).status_code == 404


def test_what_can_no_longer_be_is_refused_in_words(office, maud, drowning, nerys, bench):
    job = balance.ask(by=maud)
    found(job)
    measure = to_data([LendAHand(nerys.pk, bench.pk, date(2026, 12, 7), date(2026, 12, 13))])[0]
    job.result["rows"][0]["measure"] = measure
    job.save()
    nerys.benches.clear()
    answer = office.post(BALANCE + "try/", {"found": job.pk, "row": 0})
    assert answer.status_code == 422
    assert "Nerys Holm cannot work in Refinishing" in answer.content.decode()


def test_the_pages_ask_a_fixed_number_of_questions(office, maud, drowning, django_assert_num_queries):
    draft = trying(office, maud, drowning)
    with django_assert_num_queries(22):
        office.get(BALANCE)
    with django_assert_num_queries(37):
        office.get(f"/load/drafts/{draft.pk}/")
