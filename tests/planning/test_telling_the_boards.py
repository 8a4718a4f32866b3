"""What the published plan says reaches the Floor and the Bench, and goes when the plan no longer says it."""

from __future__ import annotations

from datetime import timedelta

import pytest
from django.utils import timezone

from shopflow.common import clock
from shopflow.planning.models import InstrumentOutlook, Plan, PlanLine
from shopflow.planning.services.telling import tell_the_boards
from shopflow.workshop.selectors.floor import Filter, floor
from shopflow.workshop.selectors.turn import order_of_work, why_now
from shopflow.workshop.services import intake
from tests import cast

pytestmark = pytest.mark.django_db


@pytest.fixture
def maud():
    cast.shop()
    return cast.manager()


def a_plan(task, *, begins, odds=0.31) -> Plan:
    plan = Plan.objects.create(begins_at=clock.now())
    ends = begins + timedelta(hours=2)
    PlanLine.objects.create(
        plan=plan,
        task=task,
        department=task.department,
        instrument=task.instrument,
        starts_at=begins,
        ends_at=ends,
        hours=2,
    )
    InstrumentOutlook.objects.create(
        plan=plan, instrument=task.instrument, planned=ends, p10=ends, p50=ends, p80=ends, p90=ends, odds=odds
    )
    return plan


def test_the_floor_says_the_odds_of_a_promise(client, maud):
    piano = cast.instrument(by=maud)
    task = cast.task(cast.operation("strip"), on=piano, by=maud)
    intake.promise(instrument=piano, on=clock.today() + timedelta(days=9), by=maud)
    tell_the_boards(a_plan(task, begins=clock.now()))
    (row,) = floor(Filter()).rows
    assert row.odds == "3 in 10"
    client.force_login(maud)
    assert "3 in 10" in client.get("/floor/").content.decode()


def test_a_new_promise_has_no_odds_until_the_next_plan(maud):
    piano = cast.instrument(by=maud)
    task = cast.task(cast.operation("strip"), on=piano, by=maud)
    piano = intake.promise(instrument=piano, on=clock.today() + timedelta(days=9), by=maud)
    tell_the_boards(a_plan(task, begins=clock.now()))
    intake.promise(instrument=piano, on=clock.today() + timedelta(days=2), by=maud)
    (row,) = floor(Filter()).rows
    assert row.odds == ""


def test_a_bench_takes_work_in_the_order_of_the_plan_and_says_so(maud):
    first, second = (cast.instrument(by=maud) for _ in range(2))
    op = cast.operation("strip")
    near = cast.task(op, on=first, by=maud)
    far = cast.task(op, on=second, by=maud)
    intake.promise(instrument=first, on=clock.today() + timedelta(days=2), by=maud)
    for task in (near, far):
        task.refresh_from_db()
    assert order_of_work(near) < order_of_work(far)
    tell_the_boards(a_plan(far, begins=clock.now()))
    for task in (near, far):
        task.refresh_from_db()
    assert order_of_work(far) < order_of_work(near)
    assert why_now(far, today=clock.today()).startswith("planned for today; ")


def test_what_a_later_plan_leaves_out_is_no_longer_told(maud):
    piano, other = cast.instrument(by=maud), cast.instrument(by=maud)
    op = cast.operation("strip")
    old, new = cast.task(op, on=piano, by=maud), cast.task(op, on=other, by=maud)
    tell_the_boards(a_plan(old, begins=clock.now()))
    tell_the_boards(a_plan(new, begins=clock.now() + timedelta(days=1)))
    for row in (piano, old):
        row.refresh_from_db()
    assert (piano.likely_by, piano.promise_odds, old.planned_for) == (None, None, None)
    new.refresh_from_db()
    assert timezone.localdate(new.planned_for) == clock.today() + timedelta(days=1)
