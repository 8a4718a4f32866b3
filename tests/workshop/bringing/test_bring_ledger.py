"""All or nothing, and in the ledger: what came in is what the ledger says, whatever stood in the cells."""

from __future__ import annotations

import csv
import io
from decimal import Decimal

import pytest
from django.core.exceptions import PermissionDenied
from django.core.management import call_command
from django.db import connection
from django.test.utils import CaptureQueriesContext
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from shopflow.catalogue.knowledge import knowledge
from shopflow.catalogue.models import Operation, Route, Stage
from shopflow.common import clock
from shopflow.common.refusals import Refused
from shopflow.customers.models import Customer
from shopflow.instruments.models import Instrument
from shopflow.workshop.models import Move, Passage, Tap, Task, TaskNeed
from shopflow.workshop.services import in_bulk, layout, moves, order, passages
from shopflow.workshop.services.bringing import writing
from shopflow.workshop.services.bringing.columns import COLUMNS
from shopflow.workshop.services.bringing.problems import Unreadable
from tests import cast

from .files import bring, look, of, table, yes_to_all

pytestmark = pytest.mark.django_db
PIANO = {"number": "501", "kind": "grand"}


def counts():
    return [model.objects.count() for model in (Instrument, Task, TaskNeed, Move, Passage, Customer, Tap)]


def agreed():
    return moves.projection_differences() == [] == passages.passage_differences()


# --- in the ledger ---


def test_a_task_is_walked_to_where_it_stands_one_line_per_stage(maud):
    bring(of(PIANO | {"task": "keys-rebush", "stage": "glue-up", "arrived_on": "2024-09-01"}), maud)
    task = Task.objects.get()
    walked = list(task.moves.order_by("pk"))
    assert [move.target.code for move in walked] == ["parted", "renewed", "glue-up"]
    assert [move.origin_id for move in walked[1:]] == [move.target_id for move in walked[:-1]]
    assert {(move.by, move.reason) for move in walked} == {(maud, "brought in")}
    # Nothing is known of what was done before: by the state as found the keys are still in the piano.
    assert [move.overrode for move in walked] == [True, False, False]
    assert Passage.objects.get().on.isoformat() == "2024-09-01"
    assert Instrument.objects.get().arrived_on.isoformat() == "2024-09-01"
    call_command("check_ledger")


def test_a_task_brought_in_goes_on_like_any_other(maud):
    bring(of(PIANO | {"task": "keys-rebush", "stage": "proving"}), maud)
    task = Task.objects.get()
    assert cast.send(task, "signed", by=maud).status == 200
    assert Instrument.objects.get().finished_on == clock.today()


@pytest.mark.parametrize("given", ["", "photo", "reading", "second eyes"])
def test_steps_past_the_order_are_told_apart_just_as_the_single_move_does(maud, given):
    """Twin instruments: one brought in, one laid out and moved by hand under override."""
    proving = Stage.objects.filter(department__code="action", code="set-up")
    proving.update(
        needs_photo=given == "photo",
        needs_reading=given == "reading",
        needs_second_eyes=given == "second eyes",
    )
    rows = [
        PIANO | {"task": code, "stage": stage}
        for code, stage in [("keytops-new", "glue-up"), ("keys-rebush", "proving")]
    ]
    said = bring(of(*rows), maud).said
    twin = cast.instrument(by=maud, kind="grand", number="777", serial="x")
    codes = ("keytops-new", "keys-rebush")
    tasks = {code: cast.task(Operation.objects.get(code=code), on=twin, by=maud) for code in codes}
    for earlier, later, reason in layout.tie_as_named(codes, knowledge("grand")):
        layout.tie(task=tasks[later], needs=tasks[earlier], by=maud, reason=reason)
    for code, until in zip(codes, ("glue-up", "proving"), strict=True):
        _walk_under_override(tasks[code], until, by=maud)
    ours, theirs = (_overridden(number) for number in ("501", "777"))
    assert ours == theirs
    assert said["past_order"] == sum(overrode for *_, overrode in ours) >= 2
    assert [bool(task.earliest_touch) for task in _tasks("501")] == [True, False]
    assert [bool(task.earliest_touch) for task in _tasks("777")] == [True, False]
    assert _ties("501") == _ties("777")


def _walk_under_override(task, until, *, by):
    codes = list(Stage.objects.filter(pk__in=task.path).order_by("position").values_list("code", flat=True))
    for code in codes[1 : codes.index(until) + 1]:
        stages = {stage.pk: stage for stage in Stage.objects.filter(pk__in=task.path)}
        task.refresh_from_db()
        step = order.Step(task, cast.stage(task, code), stages, by.pk, "brought in")
        held_back = bool(order.hindrances(step))
        assert cast.send(task, code, by=by, reason="brought in", override=held_back).status == 200


def _overridden(number):
    lines = Move.objects.filter(task__instrument__number=number).order_by("task__position", "pk")
    return [(move.task.position, move.origin_id, move.target_id, move.overrode) for move in lines]


def _tasks(number):
    return Task.objects.filter(instrument__number=number).order_by("position")


def _ties(number):
    rows = TaskNeed.objects.filter(task__instrument__number=number)
    return sorted(rows.values_list("task__operation__code", "needs__operation__code"))


def test_a_route_brought_in_is_tied_as_one_laid_out_by_hand(maud):
    bring(of(PIANO | {"route": "A"}), maud)
    twin = cast.instrument(by=maud, kind="grand", number="777")
    layout.start_route(instrument=twin, route=Route.objects.get(code="A"), by=maud)
    assert _ties("501") == _ties("777") != []
    facts = (
        "name",
        "path",
        "stage_id",
        "hours_low",
        "hours_likely",
        "hours_high",
        "rest_hours",
        "least_rest_hours",
        "at_the_owners",
        "position",
    )
    ours, theirs = (
        list(Task.objects.filter(instrument__number=n).order_by("position").values_list(*facts))
        for n in ("501", "777")
    )
    assert ours == theirs
    assert Instrument.objects.get(number="501").route.code == "A"
    assert agreed()


def test_likely_hours_stretch_the_catalogues_range(maud):
    strip = Operation.objects.get(code="strip")
    low, likely, high = strip.hours_for("grand")
    bring(of(PIANO | {"task": "strip", "hours_likely": str(likely * 2)}), maud)
    task = Task.objects.get()
    assert (task.hours_low, task.hours_likely, task.hours_high) == (low * 2, likely * 2, high * 2)


def test_the_number_of_queries_does_not_grow_with_the_rows(maud):
    def asked(first, count):
        rows = [f"{n},grand,,,,,,,strip" for n in range(first, first + count)]
        with CaptureQueriesContext(
            connection,
        ) as queries:
            bring(table(*rows), maud)
        return len(queries)

    # SQLite writes a few dozen rows at a time; a query per row would be four hundred more.
    assert asked(1000, 200) - asked(2000, 20) < 60


# --- who, and what is refused at the last ---


def test_only_those_who_may_bring_in_do(maud):
    data = of(PIANO)
    for nobody in (cast.stranger(), cast.finisher()):
        with pytest.raises(PermissionDenied):
            bring(data, nobody)
        with pytest.raises(PermissionDenied):
            look(data, nobody)
        with pytest.raises(PermissionDenied):
            in_bulk.take_in_many([(Instrument(number="1", kind="grand"), clock.today())], by=nobody)
        with pytest.raises(PermissionDenied):
            in_bulk.lay_out_many([], by=nobody, key="k" * 32, reason="brought in")
    assert not Instrument.objects.exists()


def test_signed_work_is_refused_by_the_deed_itself(maud):
    strip = Operation.objects.get(code="strip")
    path = layout.path_of(strip)
    piano = in_bulk.take_in_many([(Instrument(number="1", kind="grand"), clock.today())], by=maud)[0]
    work = in_bulk.Work(piano, strip.department, path, path[-1], "Strip", strip)
    with pytest.raises(Refused, match="only open work"):
        in_bulk.lay_out_many([work], by=maud, key="k" * 32, reason="brought in")
    assert not Move.objects.exists()
    assert not Task.objects.exists()


# --- all or nothing ---


@pytest.mark.parametrize("place", ["Instrument", "Passage", "Task", "TaskNeed", "Move", "Customer", "Tap"])
def test_a_failure_at_any_step_leaves_everything_as_it_was(maud, monkeypatch, place):
    """Whichever table cannot be written: nothing of the file is there, and the file can be brought again."""
    model = {"Instrument": Instrument, "Passage": Passage, "Task": Task, "TaskNeed": TaskNeed} | {
        "Move": Move,
        "Customer": Customer,
        "Tap": Tap,
    }
    rows = [
        PIANO | {"task": "strip", "stage": "stripped", "customer": "Ada Lanyon"},
        PIANO | {"task": "sand"},
    ]
    before = counts()

    def full(execute, sql, params, many, context):
        if sql.startswith("INSERT") and f'"{model[place]._meta.db_table}"' in sql:
            raise OSError("the disk is full")
        return execute(sql, params, many, context)

    with connection.execute_wrapper(full), pytest.raises(OSError, match="disk is full"):
        bring(of(*rows), maud)
    assert counts() == before
    assert bring(of(*rows), maud).said["tasks"] == 2
    assert agreed()


@pytest.fixture
def nell(db):
    """The manager of a small shop, so that many files can be tried."""
    cast.shop()
    for code in ("strip", "sand", "rub-out"):
        cast.operation(code)
    return cast.manager("Nell Harker")


PLAIN = (
    "501 grand upright strip Refinishing stripped 03/04/2024 2024-01-31 31.1.2024 45000 4,5 1904 a@b.example"
)
ODD = [
    "",
    "\x00",
    "\ud800",
    "\u202e",
    "=1+1",
    "x" * 3000,
    "９９",
    "٣",
    "1e400",
    "-0",
    "signed",
    "0199",
    "Ada",
]
CELL = st.one_of(st.text(max_size=30), st.sampled_from(PLAIN.split() + ODD))
ROW = st.lists(CELL, min_size=1, max_size=len(COLUMNS) + 2)


def file_of(head, rows, separator):
    held = io.StringIO(newline="")
    csv.writer(held, delimiter=separator).writerows([head, *rows])
    return held.getvalue().encode("utf-8", "surrogatepass")


@settings(max_examples=60, deadline=None, suppress_health_check=[HealthCheck.function_scoped_fixture])
@given(rows=st.lists(ROW, min_size=1, max_size=5), separator=st.sampled_from([",", ";", "\t"]))
def test_whatever_stands_in_the_cells_comes_in_whole_or_not_at_all(nell, rows, separator):
    before = counts()
    data = file_of([column.name for column in COLUMNS], rows, separator)
    try:
        plan = look(data, nell)
        said = bring(data, nell, yes_to_all(plan)).said
    except (Unreadable, writing.NotReady):
        assert counts() == before
        return
    assert Instrument.objects.count() == before[0] + said["brought"]
    assert Task.objects.count() == before[1] + said["tasks"]
    assert said["brought"] >= 1
    assert agreed()


SANE = st.fixed_dictionaries(
    {
        "number": st.integers(1, 40).map(str),
        "kind": st.sampled_from(["grand", "upright", "Grand "]),
        "serial": st.sampled_from(["", "7O1", "701", "88 1", "x-9"]),
        "arrived_on": st.sampled_from(["", "2024-01-31", "13/02/2024", "1.3.2024"]),
        "customer": st.sampled_from(["", "Ada Lanyon", "ada lanyon", "Zoë"]),
        "task": st.sampled_from(["", "strip", "SAND", "rub-out"]),
        "stage": st.sampled_from(["", "on the rack", "stripped", "built up"]),
        "note": st.text(max_size=20),
    }
)


@settings(max_examples=40, deadline=None, suppress_health_check=[HealthCheck.function_scoped_fixture])
@given(rows=st.lists(SANE, min_size=1, max_size=8, unique_by=lambda row: row["number"]))
def test_nearly_right_lists_come_in_whole_or_not_at_all(nell, rows):
    before = counts()
    for row in rows:
        if not row["task"]:
            row["stage"] = row["note"] = ""
    data = file_of(list(rows[0]), [row.values() for row in rows], ",")
    plan = look(data, nell)
    answers = yes_to_all(plan)
    if plan.problems or not look(data, nell, answers).coming:
        with pytest.raises(writing.NotReady):
            bring(data, nell, answers)
        assert counts() == before
        return
    said = bring(data, nell, answers).said
    assert said["brought"] + said["left_out"] == len(rows)
    assert said["tasks"] <= sum(bool(row["task"]) for row in rows)
    assert agreed()


def test_given_hours_are_kept_to_two_places(maud):
    bring(of(PIANO | {"task": "strip", "hours_likely": "3.25"}), maud)
    assert Task.objects.get().hours_likely == Decimal("3.25")
