"""Hours that operations really took here: of signed work only, by kind of instrument, in one query."""

from __future__ import annotations

from decimal import Decimal

import pytest

from shopflow.catalogue.models import Operation
from shopflow.workshop.selectors.hours_seen import hours_seen, learned_hours
from shopflow.workshop.services import hours
from tests import cast

pytestmark = pytest.mark.django_db


@pytest.fixture
def maud():
    cast.shop()
    return cast.manager()


def work(operation, *, by, took, kind="upright", signed=True):
    """A task of this operation that took so many hours, entered in two parts."""
    greta = cast.person(f"Greta {took} {kind}", home=operation.department)
    made = cast.task(operation, on=cast.instrument(by=by, kind=kind), by=by)
    if signed:
        cast.walk(made, by=by)
    for part in (took - 1, 1):
        hours.enter_hours(task=made, hours=Decimal(part), by=greta)


def test_hours_of_signed_work_are_added_up_by_task(maud, django_assert_num_queries):
    strip = cast.operation("strip")
    work(strip, by=maud, took=6)
    work(strip, by=maud, took=9)
    work(strip, by=maud, took=3, signed=False)
    work(strip, by=maud, took=20, kind="grand")
    with django_assert_num_queries(1):
        assert hours_seen("upright") == {strip.pk: [6.0, 9.0]}
    assert hours_seen("grand") == {strip.pk: [20.0]}


def test_only_what_was_done_here_moves_the_catalogues_hours(maud):
    strip, sand = cast.operation("strip"), cast.operation("sand")
    work(strip, by=maud, took=8)
    learned = learned_hours(Operation.objects.all(), "upright")
    assert set(learned) == {strip.pk}
    assert learned[strip.pk].n == 1
    assert learned[strip.pk].likely > 2  # The catalogue's 2 hours, moved toward 8.
    assert learned_hours([sand], "upright") == {}
