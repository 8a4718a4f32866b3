"""Loading the trade's catalogue: complete on an empty shop, and never over what a shop has changed."""

from __future__ import annotations

from decimal import Decimal
from io import StringIO

import pytest
from django.conf import settings
from django.core.management import call_command

from shopflow.catalogue.models import (
    Caution,
    Department,
    FindingKind,
    Operation,
    ReadingKind,
    Rest,
    Route,
    RouteStep,
    Stage,
)
from shopflow.catalogue.services.trade import load_trade
from shopflow.common import clock
from shopflow.workshop.services import layout
from tests import cast

pytestmark = pytest.mark.django_db
FILES = (
    "materials",
    "departments",
    "stages",
    "rests",
    "cautions",
    "state",
    "operations",
    "routes",
    "conditions",
    "bench-readings",
)


def test_an_empty_shop_gets_everything():
    added = load_trade()
    assert added["departments"] == 6
    assert added["operations"] == 126
    assert added["routes"] == 10
    assert Stage.objects.count() == added["stages"] == 54
    strip = Operation.objects.get(code="strip")
    assert [stage.name for stage in layout.path_of(strip)] == ["on the rack", "stripped", "signed"]
    assert strip.state["opens"] == {"finish": "bare"}


def test_loading_twice_adds_nothing():
    load_trade()
    counts = [model.objects.count() for model in (Stage, Operation, Route, RouteStep, Rest, Caution)]
    assert not any(load_trade().values())
    assert counts == [model.objects.count() for model in (Stage, Operation, Route, RouteStep, Rest, Caution)]


def test_what_the_shop_changed_stays_and_what_is_missing_comes():
    load_trade()
    Stage.objects.filter(code="stripped").update(name="down to the wood", position=7)
    Operation.objects.filter(code="sand").update(grand_likely=Decimal("12.5"))
    Operation.objects.filter(code="sand").update(state={"at": ["loose"], "work": "repair"})
    Department.objects.filter(code="plating").update(retired_at=clock.now())
    RouteStep.objects.filter(route__code="A", operation__code="decal").delete()
    Route.objects.get(code="G").delete()
    added = load_trade()
    assert {kind: count for kind, count in added.items() if count} == {"routes": 1}
    assert Stage.objects.get(code="stripped").name == "down to the wood"
    assert Operation.objects.get(code="sand").grand_likely == Decimal("12.5")
    assert Operation.objects.get(code="sand").state["at"] == ["loose"]
    assert Department.objects.get(code="plating").retired_at is not None
    assert not RouteStep.objects.filter(route__code="A", operation__code="decal").exists()
    assert Route.objects.get(code="G").steps.count() == 12


def test_a_shops_own_stages_keep_their_place_between_rack_and_signed():
    cast.department("refinishing")
    load_trade()
    kinds = [stage.kind for stage in Stage.objects.filter(department__code="refinishing")]
    assert kinds[0] == "racked"
    assert kinds[-1] == "signed"
    layout.path_of(Operation.objects.get(code="rub-out"))


def test_the_library_of_conditions_comes_with_its_remedies_and_readings():
    added = load_trade()
    assert added["component groups"] == 14
    assert added["kinds of finding"] == 60
    assert added["kinds of reading"] == ReadingKind.objects.count() > 30
    cracked = FindingKind.objects.get(code="SB2")
    assert cracked.group.code == "board"
    ladder = [[op.code for op in remedy.operations.all()] for remedy in cracked.remedies.all()]
    assert [sorted(codes) for codes in ladder] == [
        ["crack-fill-beneath", "rib-reglue"],
        ["crack-fill"],
        ["board-dry", "crack-shim"],
    ]


def test_a_kind_of_finding_that_the_shop_changed_stays_and_a_remedy_taken_away_stays_away():
    load_trade()
    FindingKind.objects.filter(code="SB2").update(usual_severity=4)
    FindingKind.objects.get(code="SB2").remedies.all().delete()
    ReadingKind.objects.get(code="crown").delete()
    added = load_trade()
    assert {kind: count for kind, count in added.items() if count} == {"kinds of reading": 1}
    assert FindingKind.objects.get(code="SB2").usual_severity == 4
    assert not FindingKind.objects.get(code="SB2").remedies.exists()


def test_loading_takes_a_fixed_number_of_queries(django_assert_max_num_queries):
    with django_assert_max_num_queries(78):
        load_trade()


def test_the_command_says_what_it_added():
    said = StringIO()
    call_command("load_catalogue", stdout=said)
    assert "operations: 126 added" in said.getvalue()
    again = StringIO()
    call_command("load_catalogue", stdout=again)
    assert "operations: nothing was missing" in again.getvalue()


@pytest.mark.parametrize("code", ["A", "B", "C", "D", "Du", "E", "Eu", "F", "Fu", "G"])
def test_every_route_lays_out_as_work_on_an_instrument(code):
    load_trade()
    maud = cast.manager()
    route = Route.objects.get(code=code)
    piano = cast.instrument(by=maud, kind=route.kind)
    tasks = layout.start_route(instrument=piano, route=route, by=maud)
    assert len(tasks) == route.steps.count()


def test_the_fixtures_are_fixtures_as_django_knows_them():
    paths = [str(settings.BASE_DIR / "fixtures" / f"{name}.json") for name in FILES]
    call_command("loaddata", *paths, verbosity=0)
    assert not any(load_trade().values())
    sand = Operation.objects.get(code="sand")
    assert sand.state["needs"]["finish"] == "at most bare"
    assert RouteStep.objects.filter(route__code="G").count() == 12
