"""A filled database from before the state of the piano was known: what is the shop's own stays."""

from __future__ import annotations

import json
from decimal import Decimal

import pytest
from django.db import connection
from django.db.migrations.executor import MigrationExecutor

from shopflow.catalogue.knowledge import knowledge, knowledge_data
from shopflow.catalogue.migrations import __path__ as MIGRATIONS
from shopflow.catalogue.models import Department, Operation, Remedy, Route, Stage
from shopflow.catalogue.services.adding import fixture_rows
from shopflow.workshop.models import Task, TaskNeed

BEFORE = ("catalogue", "0005_cautions_of_a_stage")
with open(f"{MIGRATIONS[0]}/earlier_catalogue.json", encoding="utf-8") as file:
    EARLIER = json.load(file)
OLD = {"receive", *EARLIER["pairs"]["must"]}
HOURS = [f"{side}_{step}" for side in ("upright", "grand") for step in ("low", "likely", "high")]

pytestmark = [pytest.mark.django_db(transaction=True), pytest.mark.slow]


def path_before(row):
    was = EARLIER["operations"].get(row["code"], {})
    return [(row["department"][0], code) for code in was.get("stages", [key[1] for key in row["stages"]])]


def old_paths():
    rows = fixture_rows("operations", "Operation")
    return {key for row in rows if row["code"] in OLD for key in path_before(row)}


def old_apps():
    """The models of the database as it was before; the database is taken back to that."""
    MigrationExecutor(connection).migrate([BEFORE])
    loader = MigrationExecutor(connection).loader
    return loader.project_state(list(loader.applied_migrations)).apps


def to_head():
    executor = MigrationExecutor(connection)
    executor.migrate(executor.loader.graph.leaf_nodes())


class OldShop:
    """A shop that loaded the catalogue as it was given out before, and made some of it its own."""

    def __init__(self, apps):
        self.get = apps.get_model
        self.model = lambda name: apps.get_model("catalogue", name)
        self._house()
        self._operations()
        self._routes_and_remedies()

    def _house(self):
        self.shop = self.model("Shop").objects.create(pk=1, name="Old shop")
        for row in fixture_rows("departments", "Department"):
            self.model("Department").objects.create(**row | {"rate": Decimal("51.50")})
        for row in fixture_rows("rests", "Rest"):
            if row["code"] != "season":
                self.model("Rest").objects.create(**row)
        departments = {row.code: row for row in self.model("Department").objects.all()}
        for row in fixture_rows("stages", "Stage"):
            if (row["department"][0], row["code"]) in old_paths():
                plain = {name: row[name] for name in row if name not in {"department", "cautions"}}
                self.model("Stage").objects.create(department=departments[row["department"][0]], **plain)
        self.departments = departments

    def _operations(self):
        stages = {
            (s.department.code, s.code): s for s in self.model("Stage").objects.select_related("department")
        }
        rests = {rest.code: rest for rest in self.model("Rest").objects.all()}
        for row in fixture_rows("operations", "Operation"):
            if row["code"] not in OLD:
                continue
            was = EARLIER["operations"].get(row["code"], {})
            rest = was.get("rest", row["rest"][0] if row["rest"] else None)
            hours = dict(zip(HOURS, was.get("hours", [row[name] for name in HOURS]), strict=True))
            made = self.model("Operation").objects.create(
                code=row["code"],
                name=was.get("name", row["name"]),
                department=self.departments[row["department"][0]],
                rest=rests.get(rest),
                hours_basis=row["hours_basis"],
                **hours,
            )
            made.stages.set(stages[key] for key in path_before(row))
        for relation, pairs in EARLIER["pairs"].items():
            for code, others in pairs.items():
                getattr(self.op(code), relation).set(self.ops(*others))

    def _routes_and_remedies(self):
        for row in fixture_rows("routes", "Route"):
            route = self.model("Route").objects.create(**row)
            for place, code in enumerate(EARLIER["routes"][row["code"]]):
                self.model("RouteStep").objects.create(route=route, operation=self.op(code), position=place)
        group = self.model("ComponentGroup").objects.create(code="board", name="Board")
        kind = self.model("FindingKind").objects.create(code="ST1", group=group, name="Wire broken")
        remedy = self.model("Remedy").objects.create(
            code="ST1-string-treble", finding_kind=kind, name="New wire"
        )
        remedy.operations.set(self.ops("string-treble", "strings-order"))

    def op(self, code):
        return self.model("Operation").objects.get(code=code)

    def ops(self, *codes):
        return self.model("Operation").objects.filter(code__in=codes)

    def own_operation(self, code, **given):
        hours = dict.fromkeys(HOURS, 2)
        return self.model("Operation").objects.create(
            code=code, name=code.capitalize(), department=self.departments["final"], **hours | given
        )

    def task(self, instrument, operation, number, stage):
        return self.get("workshop", "Task").objects.create(
            instrument_id=instrument.pk, operation_id=operation.pk, department_id=operation.department_id,
            name=operation.name, stage_id=stage.pk, path=[stage.pk], position=number,
            hours_low=1, hours_likely=2, hours_high=3,
        )  # fmt: skip


@pytest.fixture
def old():
    apps = old_apps()
    yield OldShop(apps)
    to_head()


def test_a_filled_shop_keeps_what_is_its_own_and_takes_what_is_new(old):
    piano = old.get("instruments", "Instrument").objects.create(number="101", kind="grand", maker="Oldacre")
    stage = old.model("Stage").objects.get(department__code="refinishing", code="rack")
    first, then = (old.task(piano, old.op(code), at, stage) for at, code in enumerate(("strip", "sand")))
    old.get("workshop", "TaskNeed").objects.create(task=then, needs=first)
    old.model("Operation").objects.filter(code="bridge-new").update(grand_likely=Decimal("21.0"))
    to_head()

    assert set(Department.objects.values_list("rate", flat=True)) == {Decimal("51.50")}
    assert [(tie.task_id, tie.needs_id) for tie in TaskNeed.objects.all()] == [(then.pk, first.pk)]
    assert Task.objects.get(pk=then.pk).operation.code == "sand"
    strip = Operation.objects.get(code="strip")
    assert strip.state["opens"] == {"finish": "bare"}
    assert not strip.state_to_look_at
    assert Operation.objects.get(code="bridge-new").grand_likely == Decimal("21.0"), "the shop's own hours"
    assert Operation.objects.get(code="bridge-recap").grand_likely == Decimal("8.0"), "notched apart"
    assert {"clear-coats", "tune-once"} <= set(Operation.objects.values_list("code", flat=True))
    assert [stage.code for stage in Operation.objects.get(code="sand").stages.all()] == [
        "rack",
        "sanded",
        "signed",
    ]


def test_routes_and_remedies_that_nobody_touched_are_made_whole_and_others_are_left_alone(old):
    old.model("RouteStep").objects.filter(route__code="D", operation__code="decal").delete()
    to_head()
    assert Route.objects.get(code="A").steps.filter(operation__code="clear-coats").exists()
    assert not Route.objects.get(code="D").steps.filter(operation__code="clear-coats").exists()
    remedy = Remedy.objects.get(code="ST1-string-treble")
    assert [one.code for one in remedy.operations.all()] == ["string-treble"]
    assert Remedy.objects.filter(code="ST1-section").exists()
    assert remedy.finding_kind.stops == "played"


def test_own_work_gets_a_safe_state_and_a_note_and_own_pairs_stay_as_wishes(old):
    own = old.own_operation("dust-covers")
    own.must.set(old.ops("case-on"))
    old.op("deliver").brings.add(own)
    old.op("receive").after.add(old.op("final-check"))
    to_head()
    covers = Operation.objects.get(code="dust-covers")
    assert covers.state == {
        "at": ["body", "loose"],
        "work": "repair",
        "also": ["case-on"],
        "after": ["case-on"],
    }
    assert covers.state_to_look_at
    assert "nobody has said yet" in covers.state_note
    assert Operation.objects.get(code="deliver").state["also"] == ["dust-covers"]
    receive = Operation.objects.get(code="receive")
    assert "after" not in receive.state, "a circle is not taken over"
    assert "“Final check”" in receive.state_note
    assert receive.state_to_look_at
    whole = knowledge("grand").complete(["dust-covers"]).operations
    assert {"case-on", "deliver"} <= set(whole)


def test_a_shop_with_none_of_the_trades_catalogue_works_on_by_its_own_wishes(old):
    old.model("RouteStep").objects.all().delete()
    old.model("Remedy").objects.all().delete()
    old.model("Operation").objects.all().delete()
    first, then = old.own_operation("bring"), old.own_operation("mend")
    then.must.set([first])
    to_head()
    assert Operation.objects.count() == 2
    assert knowledge_data()["operations"]["mend"]["also"] == ["bring"]
    known = knowledge("upright")
    assert known.complete(["mend"]).operations == ("bring", "mend")
    assert [(tie.before, tie.after) for tie in known.order(["bring", "mend"])] == [("bring", "mend")]


def test_new_stages_stand_where_the_work_has_them(old):
    to_head()
    rows = Stage.objects.filter(department__code="refinishing").order_by("position")
    codes = [stage.code for stage in rows]
    assert (codes[0], codes[-1]) == ("rack", "signed")
    assert codes.index("mended") < codes.index("sanded") < codes.index("coloured") < codes.index("sealed")
