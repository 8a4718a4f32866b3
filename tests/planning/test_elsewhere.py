"""A bench is told which part of a piano is in other hands now, where, and until when."""

from __future__ import annotations

from datetime import timedelta
from decimal import Decimal

import pytest

from shopflow.catalogue.models import Operation, Rest
from shopflow.common import clock
from shopflow.planning.selectors.elsewhere import elsewhere
from shopflow.workshop.models import Task
from tests import cast

from .crew_cast import MONDAY, hand, line, plan

pytestmark = pytest.mark.django_db
BENCH, WEEK = "/plan/action/", "/plan/action/week/"


@pytest.fixture(autouse=True)
def monday():
    with clock.at(MONDAY):
        yield


@pytest.fixture
def maud(db):
    cast.shop()
    return cast.manager()


@pytest.fixture
def glue(maud):
    """The body is under clamps for 30 hours when this rests."""
    rest = Rest.objects.create(code="hide", name="Hide glue", hours_low=24, hours_likely=30, hours_high=48)
    operation = cast.operation("glue", rest=rest)
    cast.line("wire", "off", "on")
    cast.says(operation, at=["body"], rest_holds=True)
    return operation


@pytest.fixture
def finn(glue):
    return hand("Finn Tarrow", glue.department)


@pytest.fixture
def ribs(glue, maud):
    task = cast.task(glue, on=cast.instrument(by=maud, number="214"), by=maud)
    Task.objects.filter(pk=task.pk).update(rest_hours=Decimal(30), least_rest_hours=Decimal(30))
    return task


@pytest.fixture
def weigh(ribs, maud):
    """Other work on the same body, in another department; nothing ties the two."""
    operation = cast.operation("weigh", at=cast.department("action"))
    cast.says(operation, at=["body", "keys"])
    return cast.task(operation, on=ribs.instrument, by=maud)


def told(*tasks):
    rows = Task.objects.filter(pk__in=[task.pk for task in tasks])
    return elsewhere(rows.select_related("stage", "operation", "instrument"))


def test_work_on_a_free_piano_waits_for_nothing(ribs, weigh):
    assert told(ribs, weigh) == {}


def test_what_is_on_another_bench_is_named_with_its_bench(ribs, weigh, finn):
    cast.send(ribs, "stripped", by=finn)
    assert told(ribs, weigh) == {weigh.pk: "waits for the back and case: Glue is on the bench in Refinishing"}


def test_what_is_under_clamps_is_named_with_its_rest_and_the_day(ribs, weigh, finn):
    cast.walk(ribs, by=finn, until="hardening")
    assert told(weigh) == {
        weigh.pk: "waits for the back and case: Glue rests (hide glue) in Refinishing until 1 Dec"
    }


def test_a_rest_that_is_over_or_leaves_the_part_free_holds_nobody_up(ribs, weigh, finn):
    cast.walk(ribs, by=finn, until="hardening")
    with clock.at(MONDAY + timedelta(hours=31)):
        assert told(weigh) == {}
    cast.says(Operation.objects.get(code="glue"), at=["body"], rest_holds=False)
    assert told(weigh) == {}


def test_other_parts_and_other_pianos_are_free(ribs, weigh, finn, maud):
    cast.send(ribs, "stripped", by=finn)
    elsewhere_bound = cast.task(weigh.operation, on=cast.instrument(by=maud), by=maud)
    cast.says(weigh.operation, at=["keys"])
    assert told(weigh, elsewhere_bound) == {}


@pytest.mark.parametrize("url", [BENCH, WEEK])
def test_the_plan_of_a_bench_says_so_beside_the_task(client, maud, ribs, weigh, finn, url):
    line(plan(), weigh, MONDAY, MONDAY + timedelta(hours=4), 2)
    client.force_login(maud)
    words = "aits for the back and case: Glue is on the bench in Refinishing"
    assert words not in client.get(url).content.decode()
    cast.send(ribs, "stripped", by=finn)
    assert words in client.get(url).content.decode()
