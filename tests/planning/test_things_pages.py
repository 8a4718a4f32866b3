"""Scarce things, sizes, parts on order, holding back: the office's small pages."""

from __future__ import annotations

from datetime import date
from decimal import Decimal

import pytest

from shopflow.common import clock
from shopflow.common.models import Job
from shopflow.planning.models import Hold, KindSize, Loan, PartOnOrder, ScarceThing
from shopflow.planning.services import things
from tests import cast
from tests.page_forms import fill

from .crew_cast import MONDAY, hand

pytestmark = pytest.mark.django_db
WAITING, THINGS = "/load/waiting/", "/set-up/scarce/"


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
    return cast.task(cast.operation("plate-in"), on=cast.instrument(by=maud, number="214"), by=maud)


@pytest.mark.parametrize("who", [cast.stranger, cast.finisher])
@pytest.mark.parametrize("url", [WAITING, THINGS, "/set-up/sizes/"])
def test_strangers_and_bench_hands_are_turned_away(client, who, url):
    client.force_login(who())
    assert client.get(url).status_code == 403


# --- scarce things ---


def test_the_usual_things_are_tied_to_the_operations_that_the_shop_has(office, task):
    office.post(THINGS + "usual/")
    office.post(THINGS + "usual/")
    assert dict(ScarceThing.objects.values_list("code", "count")) == {"spray-booth": 1, "plate-hoist": 1}
    hoist = ScarceThing.objects.get(code="plate-hoist")
    assert list(hoist.operations.all()) == [task.operation]
    assert "Plate hoist" in office.get(THINGS).content.decode()


def test_a_thing_is_added_changed_and_taken_away(office, task):
    sent = {"name": "Veneer press", "count": "2", "operations": [str(task.operation_id)]}
    assert fill(office, THINGS + "new/", sent).status_code == 302
    press = ScarceThing.objects.get()
    assert (press.code, press.count, press.operations.get()) == ("veneer-press", 2, task.operation)
    assert fill(office, f"{THINGS}{press.code}/", {"count": "1"}).status_code == 302
    press.refresh_from_db()
    assert (press.count, press.operations.count()) == (1, 1)
    office.post(f"{THINGS}{press.code}/take-away/")
    assert not ScarceThing.objects.exists()


@pytest.mark.parametrize("count", ["0", "-1", "101", "inf", "1.5", ""])
def test_an_impossible_number_of_things_is_refused(office, count):
    answer = fill(office, THINGS + "new/", {"name": "Booth", "count": count})
    assert answer.status_code == 422
    assert 'value="Booth"' in answer.content.decode()
    assert not ScarceThing.objects.exists()


# --- sizes ---


def test_a_size_is_kept_for_each_kind(office):
    assert fill(office, "/set-up/sizes/", {"upright": "0.8"}).status_code == 302
    assert dict(KindSize.objects.values_list("kind", "size")) == {"upright": Decimal("0.80"), "grand": 1}


@pytest.mark.parametrize("size", ["0", "-1", "11", "inf", "nan", ""])
def test_an_impossible_size_is_refused(office, size):
    assert fill(office, "/set-up/sizes/", {"upright": size}).status_code == 422
    assert not KindSize.objects.exists()


# --- parts on order ---


def test_a_part_is_put_down_by_the_instruments_number_and_arrives(office, task):
    page = office.get(WAITING + "?number=214").content.decode()
    assert "For instrument 214" in page
    sent = {"task": task.pk, "what": "bass set", "ordered_on": "2026-11-30", "expected_on": "2027-01-11"}
    assert fill(office, WAITING + "?number=214", sent, has="what").status_code == 302
    part = PartOnOrder.objects.get()
    assert (part.task, part.expected_on) == (task, date(2027, 1, 11))
    page = office.get(WAITING).content.decode()
    assert "The plan does not know this yet" in page
    office.post(f"{WAITING}part/{part.pk}/arrived/")
    part.refresh_from_db()
    assert part.arrived_on == MONDAY.date()
    assert office.post(f"{WAITING}part/{part.pk}/forget/").status_code == 404


def test_a_part_is_put_off_and_the_second_of_two_is_told(office, task):
    part = PartOnOrder.objects.create(
        task=task, what="bass set", ordered_on=date(2026, 11, 2), expected_on=date(2026, 11, 20)
    )
    url = f"{WAITING}part/{part.pk}/"
    assert "overdue" in office.get(WAITING).content.decode()
    old = office.get(url).context["form"].fingerprint
    assert fill(office, url, {"expected_on": "2026-12-18"}).status_code == 302
    sent = {"what": "bass set", "ordered_on": "2026-11-02", "expected_on": "2026-12-01", "seen": old}
    assert office.post(url, sent).status_code == 409
    part.refresh_from_db()
    assert part.expected_on == date(2026, 12, 18)
    office.post(url + "forget/")
    assert not PartOnOrder.objects.exists()


@pytest.mark.parametrize(
    ("ordered", "expected", "said"),
    [
        ("2026-12-01", "2026-12-05", "allowed is 2024-11-30 to today"),
        ("2026-11-30", "2026-11-29", "allowed is the day it was ordered, 2026-11-30, to 2028-11-29"),
        ("2026-11-30", "2030-01-01", "to 2028-11-29"),
        ("2026-11-31", "2026-12-05", "There is no such day"),
    ],
)
def test_impossible_days_of_a_part_are_refused(office, task, ordered, expected, said):
    sent = {"task": task.pk, "what": "bass set", "ordered_on": ordered, "expected_on": expected}
    answer = fill(office, WAITING + "?number=214", sent, has="what")
    assert answer.status_code == 422
    assert said in answer.content.decode()
    assert 'value="bass set"' in answer.content.decode()
    assert not PartOnOrder.objects.exists()


def test_an_instrument_that_is_not_here_has_no_parts(office, task):
    answer = office.get(WAITING + "?number=999")
    assert answer.status_code == 422
    assert "No instrument 999 stands in the house." in answer.content.decode()


# --- holding back ---


def test_an_instrument_is_held_back_and_let_go(office, task):
    assert fill(office, WAITING, {"until": "2026-12-14", "number": "214"}).status_code == 302
    hold = Hold.objects.get()
    assert hold.until == date(2026, 12, 14)
    office.post(f"{WAITING}hold/{hold.pk}/let-go/")
    assert not Hold.objects.exists()


@pytest.mark.parametrize("until", ["2026-11-30", "2020-01-01", "2031-01-01", "soon"])
def test_an_impossible_day_to_hold_back_to_is_refused(office, task, until):
    assert fill(office, WAITING, {"until": until, "number": "214"}).status_code == 422
    assert not Hold.objects.exists()


# --- on paper first ---


def test_a_loan_or_a_hold_can_be_tried_on_paper_instead(office, task):
    nerys = hand("Nerys Holm", cast.department("action"), others=(task.department,))
    sent = {"loan-person": nerys.pk, "loan-department": task.department_id, "loan-first": "2026-12-07"}
    assert fill(office, "/load/crew/", sent | {"paper": "1"})["Location"] == "/load/balance/"
    assert fill(office, WAITING, {"until": "2026-12-14", "number": "214", "paper": "1"}).status_code == 302
    kinds = [job.args["measures"][0]["kind"] for job in Job.objects.order_by("pk")]
    assert kinds == ["loan", "hold"]
    assert not Loan.objects.exists()
    assert not Hold.objects.exists()


def test_what_cannot_be_is_not_tried_on_paper_either(office, task):
    nerys = hand("Nerys Holm", cast.department("action"))
    sent = {"loan-person": nerys.pk, "loan-department": task.department_id, "loan-first": "2026-12-07"}
    answer = fill(office, "/load/crew/", sent | {"paper": "1"})
    assert answer.status_code == 422
    assert "cannot work in Refinishing" in answer.content.decode()
    assert not Job.objects.exists()


def test_the_demo_gets_the_usual_things_without_anybody_asking(task):
    assert [one.code for one in things.put_usual_things()] == ["spray-booth", "plate-hoist"]
    assert things.put_usual_things() == []
