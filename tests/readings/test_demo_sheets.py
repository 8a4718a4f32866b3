"""The sheets of the demo: each bench has one half filled this week, none of it in the future."""

from __future__ import annotations

import random

import pytest

from shopflow.catalogue.models import Department, Route, Stage
from shopflow.catalogue.services import load_trade
from shopflow.common import clock
from shopflow.demo.sheets import fill_sheets
from shopflow.readings.models import BenchSheet, Computed, Reading, RoomAir
from shopflow.workshop.services import layout
from tests import cast

pytestmark = pytest.mark.django_db


@pytest.fixture
def filled():
    cast.shop()
    load_trade()
    maud = cast.manager()
    for department in Department.objects.all():
        cast.person(f"Hand of {department.name}", home=department)
    for route in ("A", "B"):
        found = Route.objects.get(code=route)
        piano = cast.instrument(by=maud, kind=found.kind)
        layout.start_route(instrument=piano, route=found, by=maud)
    fill_sheets(rng=random.Random(1), by=maud)


def test_each_bench_has_a_sheet_of_its_own_begun(filled):
    benches = set(BenchSheet.objects.values_list("task__department__code", flat=True))
    assert benches == {"final", "soundboard", "stringing", "refinishing", "plating", "action"}
    assert {"finishing", "plating", "lifting"} <= set(BenchSheet.objects.values_list("kind", flat=True))
    assert Computed.objects.count() >= 5
    assert not Reading.objects.filter(measured_again=True).exists()


def test_two_rooms_have_their_air_of_six_weeks(filled):
    assert set(RoomAir.objects.values_list("room", flat=True)) == {"Booth", "Soundboard room"}
    assert RoomAir.objects.count() >= 50


def test_nothing_was_written_down_in_the_future(filled):
    for model in (Reading, Computed, RoomAir):
        assert not model.objects.filter(at__gt=clock.now()).exists()


def test_the_build_of_a_film_asks_for_a_reading_from_now_on(filled):
    assert Stage.objects.get(department__code="refinishing", code="built-up").needs_reading
