"""A stage may ask for a reading before it is left, and says so beforehand."""

from __future__ import annotations

import pytest

from shopflow.catalogue.models import Stage
from shopflow.common import clock
from shopflow.readings.measures import Measure
from shopflow.readings.models import Reading
from shopflow.readings.services import sheets
from shopflow.workshop.models import Move
from shopflow.workshop.services import moves
from tests import cast

from .sheet_cast import reading_kind, sheet_url, task_with_sheet

pytestmark = pytest.mark.django_db


@pytest.fixture
def maud():
    cast.shop()
    return cast.manager()


@pytest.fixture
def finn(maud):
    return cast.finisher()


@pytest.fixture
def kind():
    return reading_kind()


@pytest.fixture
def task(maud, finn):
    made = task_with_sheet(by=maud)
    Stage.objects.filter(department=made.department, code="built-up").update(needs_reading=True)
    cast.walk(made, by=finn, until="built-up")
    return made


def take(task, kind, finn, **given):
    said = {"task_id": task.pk, "sheet": "finishing", "kind": kind, "measure": Measure("90", "µm", 90)}
    return sheets.take_reading(**(said | given), by=finn, tap=cast.tap(finn))


def test_the_stage_is_not_left_without_a_reading_and_is_after_one(task, kind, finn):
    refused = cast.send(task, "hardening", by=finn)
    assert refused.status == 422
    assert "“built up” asks for a reading on its bench sheet before it is left." in refused.said["refused"]
    take(task, kind, finn)
    assert cast.send(task, "hardening", by=finn).status == 200


def test_the_bench_leads_to_the_sheet_instead_of_offering_the_step(client, task, kind, finn):
    client.force_login(finn)
    for url in (f"/bench/{task.department.code}/", f"/tasks/{task.pk}/"):
        page = client.get(url).content.decode()
        assert "Take a reading first" in page
        assert f'href="/tasks/{task.pk}/sheet/"' in page
        assert "Built up: done" not in page
    assert "asks for a reading before it is left; none yet" in client.get(sheet_url(task)).content.decode()
    take(task, kind, finn)
    page = client.get(f"/bench/{task.department.code}/").content.decode()
    assert "asks for a reading before it is left: taken." in page
    assert "Built up: done" in page


def test_a_reading_taken_before_the_stage_was_reached_does_not_count(maud, finn, kind):
    made = task_with_sheet(by=maud)
    Stage.objects.filter(department=made.department, code="built-up").update(needs_reading=True)
    cast.walk(made, by=finn, until="stripped")
    take(made, kind, finn)
    cast.send(made, "built-up", by=finn)
    assert cast.send(made, "hardening", by=finn).status == 422


def test_a_struck_reading_does_not_count_and_the_one_before_it_does(task, kind, finn):
    take(task, kind, finn)
    task.refresh_from_db()
    first_read_at = task.read_at
    take(task, kind, finn, place="lid")
    for line in Reading.objects.order_by("-pk"):
        sheets.strike(line=line, reason="wrong panel", by=finn, tap=cast.tap(finn))
        task.refresh_from_db()
        assert task.read_at in {first_read_at, None}
    assert task.read_at is None
    assert cast.send(task, "hardening", by=finn).status == 422


def test_an_undone_leaving_leaves_the_reading_of_that_stay_good(task, kind, finn):
    take(task, kind, finn)
    cast.send(task, "hardening", by=finn)
    last = Move.objects.filter(task=task).last()
    assert moves.undo_move(move_id=last.pk, by=finn, tap=cast.tap(finn)).status == 200
    assert cast.send(task, "hardening", by=finn).status == 200


def test_gone_back_to_with_a_reason_it_asks_anew(task, kind, finn):
    take(task, kind, finn)
    cast.send(task, "hardening", by=finn)
    cast.send(task, "built-up", by=finn, reason="sagged at the edge")
    assert cast.send(task, "hardening", by=finn).status == 422


def test_a_manager_may_go_past_it_with_a_reason_kept_in_the_ledger(task, maud):
    assert cast.send(task, "hardening", by=maud, override=True).status == 422
    assert cast.send(task, "hardening", by=maud, override=True, reason="gauge is broken").status == 200
    assert Move.objects.filter(task=task).last().overrode


def test_work_without_a_sheet_is_not_asked(maud, finn, task):
    plain = cast.task(cast.operation("strip"), on=cast.instrument(by=maud), by=maud)
    cast.walk(plain, by=finn, until="hardening")
    assert plain.stage_since <= clock.now()


def test_a_sum_on_the_sheet_is_a_reading_too(client, task, finn):
    client.force_login(finn)
    air = {"temp_c": "20", "rh": "60", "surface_c": "19", "margin_c": "3", "highest_rh": "85"}
    client.post(sheet_url(task, "sum/may-coat/"), {"key": "tap-of-the-dew", **air})
    assert cast.send(task, "hardening", by=finn).status == 200
