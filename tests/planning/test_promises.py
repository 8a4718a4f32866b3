"""Promises: the order of the list, its figures as the plan has them, what is waited for, what slipped."""

from __future__ import annotations

from datetime import date, timedelta

import pytest

from shopflow.common import clock
from shopflow.planning.models import ClosedDay, Hold, PartOnOrder
from shopflow.planning.selectors import promises as questions
from shopflow.workshop.models import PromiseMade
from shopflow.workshop.selectors.story import latest
from shopflow.workshop.services import intake, snags
from tests import cast

from .crew_cast import MONDAY, hand, plan
from .plan_cast import outlook

pytestmark = pytest.mark.django_db
HTMX = {"HX-Request": "true"}
TODAY = date(2026, 11, 30)
PAGE, SUGGEST = "/promises/", "/promises/214/suggest/"


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
def task(maud):
    made = cast.task(cast.operation(), on=cast.instrument(by=maud, number="214"), by=maud)
    hand("Finn Tarrow", made.department)
    return made


def promised(piano, days, *, by):
    piano.refresh_from_db()
    return intake.promise(instrument=piano, on=TODAY + timedelta(days=days), by=by)


def rows(of=None):
    return questions.promises(of, today=TODAY)


@pytest.mark.parametrize("who", [cast.stranger, cast.finisher])
@pytest.mark.parametrize("url", [PAGE, SUGGEST])
def test_strangers_and_bench_hands_are_turned_away(client, task, who, url):
    client.force_login(who("Somebody Else"))
    assert client.get(url).status_code == 403


def test_without_a_plan_the_page_says_so_and_still_says_what_is_waited_for(office, task):
    page = office.get(PAGE).content.decode()
    assert "There is no plan yet" in page
    assert "A place in Refinishing for Strip" in page
    assert "no plan yet, so no day" in office.get(SUGGEST).content.decode()


def test_an_empty_house_says_so(office):
    assert "No work is open" in office.get(PAGE).content.decode()


def test_the_figures_are_those_of_the_plan(office, task, maud):
    made = plan()
    outlook(made, task.instrument, likely=9, late=14, odds=0.31)
    promised(task.instrument, 11, by=maud)
    (row,) = rows(made)
    assert (row.p50, row.p80) == (TODAY + timedelta(days=9), TODAY + timedelta(days=14))
    assert (row.slack, row.odds_words, row.percent) == (-3, "3 in 10", 31)
    page = office.get(PAGE).content.decode()
    for words in ("9 Dec 2026", "14 Dec 2026", "11 Dec 2026", "3 in 10", "31 %", "-3"):
        assert words in page
    assert "The plan of Mon 30 Nov, 08:00, made by Maud Ferrier" in page


def test_what_is_finished_after_closing_is_finished_the_next_day(task):
    made = plan()
    row = outlook(made, task.instrument, likely=9, late=14)
    row.p80 = row.p80.replace(hour=18)
    row.save()
    assert rows(made)[0].p80 == TODAY + timedelta(days=15)


def test_the_least_sure_comes_first_then_those_without_a_date(maud, task):
    made = plan()
    pianos = {"214": task.instrument}
    for piano in cast.crowd(3):
        pianos[piano.number] = piano
    sure, unsure, undated = list(pianos)[1:]
    for number, odds in ((sure, 0.9), (unsure, 0.2), ("214", 0.5)):
        outlook(made, pianos[number], likely=9, late=14, odds=odds)
        promised(pianos[number], 12, by=maud)
    outlook(made, pianos[undated], likely=1, late=2)
    assert [row.instrument.number for row in rows(made)] == [unsure, "214", sure, undated]


def test_work_laid_out_since_is_not_in_the_plan(office, task):
    plan()
    assert "not in this plan" in office.get(PAGE).content.decode()
    assert "is not in the plan" in office.get(SUGGEST).content.decode()


class TestWhatIsWaitedFor:
    def words(self):
        return rows()[0].waits.words

    def test_hands_while_it_is_on_the_bench_and_a_check_after(self, task):
        finn = cast.finisher("Greta Lunt")
        cast.send(task, "stripped", by=finn)
        assert self.words() == "Strip is on the bench in Refinishing"
        for stage in ("built-up", "hardening", "proving"):
            cast.send(task, stage, by=finn)
        assert self.words() == "Strip is to be checked in Refinishing"

    def test_a_snag_before_everything(self, task, maud):
        PartOnOrder.objects.create(
            task=task, what="two hinges", ordered_on=TODAY, expected_on=TODAY + timedelta(days=9)
        )
        assert self.words() == "Strip waits for two hinges, expected 9 Dec"
        snags.raise_snag(
            task=task, cause="part", reason="two hinges missing", ask_again_on=TODAY, by=maud, owner=maud
        )
        assert self.words() == "Strip is stopped: two hinges missing"
        assert rows()[0].waits.stopped

    def test_its_day_when_it_is_held_back(self, task):
        Hold.objects.create(instrument=task.instrument, until=TODAY + timedelta(days=2))
        assert self.words() == "Held back until 2 Dec"


class TestSlipping:
    def test_only_later_days_count(self, task, maud):
        for days in (10, 8, 12):
            promised(task.instrument, days, by=maud)
        assert rows()[0].slips == 1
        promised(task.instrument, 20, by=maud)
        assert rows()[0].slipped_twice
        assert PromiseMade.objects.count() == 4

    def test_taking_a_promise_back_in_between_hides_nothing(self, task, maud):
        promised(task.instrument, 10, by=maud)
        task.instrument.refresh_from_db()
        intake.promise(instrument=task.instrument, on=None, by=maud)
        promised(task.instrument, 12, by=maud)
        assert rows()[0].slips == 1

    def test_a_change_of_other_facts_writes_no_promise(self, task, maud):
        promised(task.instrument, 10, by=maud)
        task.instrument.refresh_from_db()
        intake.change_facts(
            instrument=task.instrument,
            seen_version=task.instrument.version,
            facts={"place": "bay 3"},
            by=maud,
        )
        assert PromiseMade.objects.count() == 1

    def test_a_promise_made_at_the_door_is_on_record(self, maud):
        made = intake.take_in(by=maud, number="300", kind="upright", promised_on=TODAY + timedelta(days=40))
        (line,) = PromiseMade.objects.filter(instrument=made)
        assert (line.on, line.instead_of, line.by) == (made.promised_on, None, maud)

    def test_it_is_told_in_the_story_and_cannot_be_changed(self, task, maud, office):
        promised(task.instrument, 10, by=maud)
        promised(task.instrument, 12, by=maud)
        assert [one.kind for one in latest(task.instrument)].count("promise") == 2
        page = office.get("/instruments/214/story/").content.decode()
        assert "for 12 Dec 2026 instead of 10 Dec 2026" in page
        with pytest.raises(TypeError):
            PromiseMade.objects.get(on=TODAY + timedelta(days=12)).delete()

    def test_who_slipped_twice_and_is_unsure_again_is_called_today(self, task, maud, office):
        made = plan()
        outlook(made, task.instrument, likely=30, late=40, odds=0.4)
        for days in (5, 10, 20):
            promised(task.instrument, days, by=maud)
        page = office.get(PAGE).content.decode()
        assert "Call today:" in page
        assert "slipped 2 times" in page


class TestSuggesting:
    def test_the_day_is_the_next_open_one_after_p80(self, task):
        ClosedDay.objects.create(day=date(2026, 12, 14))
        made = plan()
        # Day 12 after the Monday is a Saturday; the Monday after it is closed.
        outlook(made, task.instrument, likely=5, late=12)
        assert questions.advice(made, task.instrument).on == date(2026, 12, 15)

    def test_it_is_a_page_and_a_piece_and_promises_at_one_press(self, task, office):
        outlook(plan(), task.instrument, likely=5, late=9)
        whole, piece = office.get(SUGGEST), office.get(SUGGEST, headers=HTMX)
        assert "<html" in whole.content.decode()
        assert "<html" not in piece.content.decode()
        for answer in (whole, piece):
            assert "Wed 9 Dec 2026" in answer.content.decode()
        task.instrument.refresh_from_db()
        office.post(
            "/instruments/214/promise/",
            {"version": task.instrument.version, "promised_on": "2026-12-09"},
        )
        task.instrument.refresh_from_db()
        assert task.instrument.promised_on == date(2026, 12, 9)

    def test_the_instruments_page_leads_there(self, task, office):
        assert f'href="{SUGGEST}"' in office.get("/instruments/214/").content.decode()

    def test_an_instrument_that_is_not_there_is_404(self, office, task):
        plan()
        assert office.get("/promises/999/suggest/").status_code == 404


def test_hostile_words_stay_words(office, maud, task):
    bad = "<script>alert(1)</script>"
    task.instrument.maker = bad
    task.instrument.save()
    snags.raise_snag(task=task, cause="part", reason=bad, ask_again_on=TODAY, by=maud, owner=maud)
    outlook(plan(), task.instrument, likely=5, late=9, odds=0.5)
    assert bad not in office.get(PAGE).content.decode()


def test_the_page_asks_as_many_questions_for_a_hundred_instruments(
    office, task, maud, django_assert_num_queries
):
    made = plan()
    promised(task.instrument, 9, by=maud)
    outlook(made, task.instrument, likely=5, late=9, odds=0.5)
    with django_assert_num_queries(15):
        office.get(PAGE)
    for piano in cast.crowd(100):
        promised(piano, 9, by=maud)
        outlook(made, piano, likely=5, late=9, odds=0.5)
    with django_assert_num_queries(15):
        office.get(PAGE)
