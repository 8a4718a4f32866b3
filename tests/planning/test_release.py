"""What to start next: who stands on the list, in which order, and why."""

from __future__ import annotations

from datetime import date, timedelta

import pytest

from shopflow.common import clock
from shopflow.planning.models import Hold, PartOnOrder
from shopflow.planning.selectors.release import release_list
from tests import cast

from .crew_cast import MONDAY, hand, line, plan

pytestmark = pytest.mark.django_db
TODAY = date(2026, 11, 30)
PAGE = "/promises/next/"


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


def shown(of=None):
    return release_list(of, now=MONDAY, today=TODAY)


def numbers(of=None):
    return [one.instrument.number for one in shown(of).candidates]


def untouched(number, at, *, by, **given):
    op = cast.Operation.objects.filter(code=f"first-{at.code}").first()
    op = op or cast.operation(f"first-{at.code}", at=at)
    return cast.task(op, on=cast.instrument(by=by, number=number, **given), by=by)


@pytest.mark.parametrize("who", [cast.stranger, cast.finisher])
def test_strangers_and_bench_hands_are_turned_away(client, maud, who):
    client.force_login(who())
    assert client.get(PAGE).status_code == 403


def test_what_is_begun_is_not_on_the_list(maud):
    begun = untouched("214", cast.department(), by=maud)
    untouched("215", cast.department(), by=maud)
    cast.send(begun, "stripped", by=cast.finisher())
    assert numbers() == ["215"]
    assert shown().begun == 1


def test_what_has_no_work_laid_out_is_named_apart(office, maud):
    cast.instrument(by=maud, number="300")
    assert [one.number for one in shown().without_work] == ["300"]
    page = office.get(PAGE).content.decode()
    assert "No work laid out yet" in page
    assert 'href="/instruments/300/work/"' in page


def test_the_first_feeds_the_bench_whose_begun_work_ends_soonest(maud):
    """Refinishing has begun work for this week, Action has none: who begins at Action goes first."""
    refinishing, action = cast.department(), cast.department("action")
    greta = hand("Greta Lunt", refinishing)
    hand("Ada Lund", action)
    begun = cast.task(cast.operation("strip"), on=cast.instrument(by=maud, number="210"), by=maud)
    cast.send(begun, "stripped", by=greta)
    untouched("214", refinishing, by=maud, promised_on=TODAY + timedelta(days=3))
    untouched("215", action, by=maud)
    made = plan()
    line(made, begun, MONDAY, MONDAY + timedelta(days=4, hours=8), 30)
    found = shown(made)
    assert [(one.department.code, one.week.week) for one in found.dry] == [
        ("action", 49),
        ("refinishing", 50),
    ]
    assert numbers(made) == ["215", "214"]
    assert (
        found.candidates[0].reasons[0] == "Action runs thin from week 49: it brings 2 h there, its first work"
    )
    assert found.candidates[1].reasons[1] == "promised Thu 3 Dec, in 3 days"


def test_work_of_the_untouched_does_not_count_as_begun(maud):
    refinishing = cast.department()
    hand("Greta Lunt", refinishing)
    waiting = untouched("214", refinishing, by=maud)
    made = plan()
    line(made, waiting, MONDAY, MONDAY + timedelta(days=4, hours=8), 30)
    assert shown(made).dry[0].week.week == 49


def test_the_nearest_promise_then_the_longest_in_the_house(maud):
    bench = cast.department()
    untouched("214", bench, by=maud, arrived=TODAY - timedelta(days=9))
    untouched("215", bench, by=maud, arrived=TODAY - timedelta(days=30))
    untouched("216", bench, by=maud, promised_on=TODAY + timedelta(days=40))
    assert numbers() == ["216", "215", "214"]


def test_what_waits_for_something_from_outside_stands_last_and_says_so(office, maud):
    bench = cast.department()
    parts = untouched("214", bench, by=maud, promised_on=TODAY + timedelta(days=5))
    held = untouched("215", bench, by=maud, promised_on=TODAY + timedelta(days=6))
    untouched("216", bench, by=maud)
    PartOnOrder.objects.create(
        task=parts, what="two hinges", ordered_on=TODAY, expected_on=TODAY + timedelta(days=9)
    )
    Hold.objects.create(instrument=held.instrument, until=TODAY + timedelta(days=20))
    assert numbers() == ["216", "214", "215"]
    page = office.get(PAGE).content.decode()
    assert "Two hinges is expected 9 Dec" in page
    assert "Held back until 20 Dec" in page


def test_without_a_plan_and_in_an_empty_house_the_page_says_so(office):
    page = office.get(PAGE).content.decode()
    assert "There is no plan yet" in page
    assert "Everything is begun" in page


def test_hostile_words_stay_words(office, maud):
    bad = "<script>alert(1)</script>"
    task = untouched("214", cast.department(), by=maud, maker=bad)
    PartOnOrder.objects.create(task=task, what=bad, ordered_on=TODAY, expected_on=TODAY)
    assert bad not in office.get(PAGE).content.decode()


def test_the_page_asks_as_often_for_a_hundred_instruments(office, maud, django_assert_num_queries):
    task = untouched("214", cast.department(), by=maud)
    hand("Greta Lunt", task.department)
    line(plan(), task, MONDAY, MONDAY + timedelta(hours=8), 4)
    with django_assert_num_queries(29):
        office.get(PAGE)
    cast.crowd(100)
    with django_assert_num_queries(29):
        office.get(PAGE)
