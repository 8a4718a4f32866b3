"""Lists as shops keep them, in eight styles: every fault is named, and repaired they come in whole."""

from __future__ import annotations

from decimal import Decimal

import pytest

from shopflow.customers.models import Customer
from shopflow.instruments.models import Instrument
from shopflow.workshop.models import Move, Task
from shopflow.workshop.services.moves import projection_differences
from shopflow.workshop.services.passages import passage_differences

from .files import bring, faults, look, yes_to_all
from .messy import STYLES, written

pytestmark = pytest.mark.django_db
# Every style with a list of its own, so that the rarer faults come up in one or another.
SEED = dict(zip(STYLES, range(102, 110), strict=True))


@pytest.mark.parametrize("style", STYLES)
def test_every_fault_is_named_by_line_and_column_and_nothing_comes_in(maud, style):
    messy = written(SEED[style], STYLES[style])
    assert len(messy.faults) > 15
    plan = look(messy.data, maud)
    assert set(faults(plan)) == messy.faults
    assert not plan.is_ready
    assert not Instrument.objects.exists()


@pytest.mark.parametrize("style", STYLES)
def test_the_repaired_list_comes_in_whole(maud, style):
    messy = written(SEED[style], STYLES[style], faulty=False)
    plan = look(messy.data, maud)
    assert faults(plan) == []
    assert [set(one.details) for one in plan.questions if one.name == "columns"] == [messy.extra]
    answer = bring(messy.data, maud, yes_to_all(plan))
    assert answer.status == 200
    assert (answer.said["brought"], answer.said["tasks"]) == (150, messy.tasks)
    assert Customer.objects.count() == len({piano["customer"] for piano in messy.truth})
    for piano in messy.truth:
        assert_as_told(piano)
    assert projection_differences() == []
    assert passage_differences() == []


def assert_as_told(piano):
    row = Instrument.objects.select_related("customer").get(number=piano["number"])
    told = [piano[name] for name in ("kind", "maker", "serial", "year", "size_cm", "finish", "arrived_on")]
    assert told == [row.kind, row.maker, row.serial, row.year_built, row.size_cm, row.finish, row.arrived_on]
    assert (piano["promised_on"] or None) == row.promised_on
    assert (row.customer.name, row.customer.email) == (piano["customer"], piano["customer_email"])
    tasks = list(
        Task.objects.filter(instrument=row).select_related("operation", "stage").order_by("position")
    )
    assert len(tasks) == len(piano["tasks"])
    for task, told in zip(tasks, piano["tasks"], strict=True):
        assert (task.operation.code if task.operation else "") == told["means"]
        assert (task.stage.name, task.note) == (told["stands"], told["note"])
        if told["hours_likely"] != "":
            assert task.hours_likely == Decimal(str(told["hours_likely"]))
        steps = Move.objects.filter(task=task)
        assert steps.count() == task.path.index(task.stage_id)
        assert {step.reason for step in steps} <= {"brought in"}
