"""The Scope page: for the office alone, by address and button as well as by htmx."""

from __future__ import annotations

import json

import pytest
from django.db import connection
from django.test import Client
from django.test.utils import CaptureQueriesContext

from shopflow.offers.models import Scope
from tests import cast

from .scope_cast import Upright

pytestmark = pytest.mark.django_db
HTMX = {"HX-Request": "true"}


def url(there: Upright, **given: object) -> str:
    query = "&".join(f"{name.replace('_', '-')}={value}" for name, value in given.items())
    return f"/instruments/{there.instrument.number}/scope/?{query}"


def office(there: Upright) -> Client:
    browser = Client()
    browser.force_login(there.by)
    return browser


def wish(there: Upright, finding: str) -> str:
    return f"wish-{there.findings[finding].pk}"


@pytest.mark.parametrize("who", ["nobody", "stranger", "hand"])
def test_nobody_but_the_office_sees_or_keeps_a_scope(who):
    there = Upright("crack")
    browser = Client()
    if who != "nobody":
        browser.force_login(cast.stranger() if who == "stranger" else cast.finisher(home=there.bench))
    wanted = 302 if who == "nobody" else 403
    assert browser.get(url(there, budget=500)).status_code == wanted
    kept = browser.post(f"/instruments/{there.instrument.number}/scope/keep/", {"budget": "500"})
    assert kept.status_code == wanted
    assert not Scope.objects.exists()


def test_the_page_says_what_the_money_buys_and_what_is_left():
    there = Upright("crack", "block")
    page = office(there).get(url(there, budget=790)).content.decode()
    for words in (
        "£720", "Proven best", "The next step of money", "For <strong>£10</strong> more", "plate-out",
        "The crack gets worse.", "£80 more now", "£400 as a job of its own", "Cheap only now", "<svg",
    ):  # fmt: skip
        assert words in page


def test_without_a_budget_one_is_suggested_and_nothing_is_written():
    there = Upright("crack", "block")
    answer = office(there).get(url(there))
    assert answer.status_code == 200
    assert answer.context["answer"].price == 720  # The first step that takes away half of what money can.
    assert not Scope.objects.exists()


def test_htmx_gets_the_answer_alone_with_its_address_and_a_spoken_line():
    there = Upright("crack", "block")
    answer = office(there).get(url(there, budget=800), headers=HTMX)
    assert answer.content.decode().lstrip().startswith('<div id="scope-answer"')
    assert answer.headers["HX-Replace-Url"].endswith("/scope/?budget=800")
    assert json.loads(answer.headers["HX-Trigger"])["say"]["value"].startswith("£800: 2 mended")
    assert "HX-Request" in answer.headers["Vary"]


@pytest.mark.parametrize("typed", ["-3", "1e400", "NaN", "much", "", "100000", "1.2345"])
def test_money_that_makes_no_sense_is_refused_and_stays_typed(typed):
    there = Upright("crack")
    answer = office(there).get(url(there, budget=typed))
    assert answer.status_code == 422
    page = answer.content.decode()
    assert "allowed is 0 to 99,999" in page or "required" in page
    assert f'value="{typed}"' in page or not typed


def test_pence_may_stand_behind_a_comma():
    there = Upright("crack", "block")
    assert office(there).get(url(there, budget="799,99")).context["answer"].price == 720


def test_a_sum_that_buys_nothing_does_not_leave_the_last_answer_standing():
    there = Upright("crack", "leg")
    answer = office(there).get(url(there, budget=70), headers=HTMX)
    assert answer.status_code == 422
    assert json.loads(answer.headers["HX-Trigger"])["say"]["value"].startswith("No scope for this sum")


def test_money_below_the_safety_work_says_what_it_is_and_offers_the_sum():
    there = Upright("leg", "block")
    answer = office(there).get(url(there, budget=70))
    page = answer.content.decode()
    assert answer.status_code == 422
    assert "At least £80 is needed for what must be done: 1. leg worn (do leg)" in page
    assert 'data-budget-to="80"' in page


def test_wishes_are_kept_in_the_address_and_contradictions_named():
    there = Upright("crack", "leg")
    browser = office(there)
    left = browser.get(url(there, budget=900, **{wish(there, "crack"): "leave"}))
    assert [one.remedy.name for one in left.context["answer"].mended] == ["do leg"]
    assert f"{wish(there, 'crack')}=leave&amp;budget=" in left.content.decode()
    clash = browser.get(url(there, budget=900, **{wish(there, "leg"): "leave"}))
    assert clash.status_code == 422
    assert "matter of safety" in clash.content.decode()


def test_a_wish_that_is_not_offered_is_refused():
    there = Upright("crack")
    answer = office(there).get(url(there, budget=900, **{wish(there, "crack"): "999999"}))
    assert answer.status_code == 422
    assert "answer" not in answer.context


def test_a_kept_scope_is_shown_again_as_it_was():
    there = Upright("crack", "block")
    browser = office(there)
    sent = {"budget": "800", "name": "All of it", wish(there, "crack"): "must"}
    for _ in range(2):
        answer = browser.post(f"/instruments/{there.instrument.number}/scope/keep/", sent)
        assert answer.status_code == 302
    kept = Scope.objects.get()
    assert (kept.name, kept.budget, kept.made_by) == ("All of it", 800, there.by)
    assert kept.chosen == [there.choice("block"), there.choice("crack")]
    again = browser.get(url(there))
    assert again.context["budget"] == 800
    assert '<option value="must" selected>' in again.content.decode()


def test_what_cannot_be_kept_is_said_and_nothing_is_kept():
    there = Upright("leg")
    answer = office(there).post(f"/instruments/{there.instrument.number}/scope/keep/", {"budget": "30"})
    assert answer.status_code == 422
    assert "At least £80" in answer.content.decode()
    assert not Scope.objects.exists()


def test_an_instrument_without_open_findings_says_what_to_do():
    there = Upright()
    page = office(there).get(url(there)).content.decode()
    assert "Nothing stands against it" in page
    assert office(there).get("/instruments/999/scope/").status_code == 404


def test_queries_are_few_and_do_not_grow_with_the_findings():
    there = Upright("crack", "block")
    browser = office(there)

    def count() -> int:
        with CaptureQueriesContext(connection) as seen:
            assert browser.get(url(there, budget=900), headers=HTMX).status_code == 200
        return len(seen)

    count()
    few = count()
    for _ in range(5):
        there.find("hammers")
        there.find("crack")
    assert count() == few
    assert few <= 16
