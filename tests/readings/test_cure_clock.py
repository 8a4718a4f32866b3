"""A stage in which work rests is not left before its earliest touch."""

from __future__ import annotations

from datetime import timedelta
from decimal import Decimal

import pytest

from shopflow.common import clock
from shopflow.people.access import NotAllowed
from shopflow.readings.models import CureSet
from shopflow.readings.services.cures import set_cure
from shopflow.workshop.models import Move
from shopflow.workshop.selectors.story import story
from shopflow.workshop.services import moves
from tests import cast

from .sheet_cast import send, sheet_url, task_with_sheet

pytestmark = pytest.mark.django_db


@pytest.fixture
def maud():
    cast.shop()
    return cast.manager()


@pytest.fixture
def finn(maud):
    return cast.finisher()


@pytest.fixture
def task(maud, finn):
    made = task_with_sheet(by=maud, rest_hours=48)
    cast.walk(made, by=finn, until="hardening")
    made.refresh_from_db()
    return made


def cure(task, hours, by, **given):
    return set_cure(task_id=task.pk, hours=hours, basis="product sheet", by=by, tap=cast.tap(by), **given)


def later(hours):
    return clock.at(clock.now() + timedelta(hours=hours))


def test_the_catalogues_least_rest_holds_until_it_is_over(task, finn):
    assert task.earliest_touch == task.stage_since + timedelta(hours=48)
    refused = cast.send(task, "proving", by=finn)
    assert refused.status == 422
    assert "“hardening” has to rest: earliest touch " in refused.said["refused"]
    with later(47.9):
        assert cast.send(task, "proving", by=finn).status == 422
    with later(48.1):
        assert cast.send(task, "proving", by=finn).status == 200
    task.refresh_from_db()
    assert task.earliest_touch is None


def test_going_back_from_a_rest_needs_only_its_reason(task, finn):
    assert cast.send(task, "built-up", by=finn, reason="dust in the coat").status == 200
    task.refresh_from_db()
    assert task.earliest_touch is None


def test_a_rest_that_was_left_by_mistake_loses_no_time_when_that_is_undone(task, finn):
    was = task.earliest_touch
    with later(50):
        cast.send(task, "proving", by=finn)
        last = Move.objects.filter(task=task).last()
        moves.undo_move(move_id=last.pk, by=finn, tap=cast.tap(finn))
        task.refresh_from_db()
        assert task.earliest_touch == was
        assert cast.send(task, "proving", by=finn).status == 200


def test_the_bench_prolongs_by_the_products_sheet(task, finn):
    answer = cure(task, 72, finn)
    assert answer.status == 200
    task.refresh_from_db()
    assert task.earliest_touch == task.stage_since + timedelta(hours=72)
    assert task.least_rest_hours == 72
    with later(50):
        assert cast.send(task, "proving", by=finn).status == 422


def test_set_before_it_rests_it_holds_when_it_gets_there(maud, finn):
    made = task_with_sheet(by=maud, rest_hours=48)
    assert cure(made, 96, finn).status == 200
    cast.walk(made, by=finn, until="hardening")
    made.refresh_from_db()
    assert made.earliest_touch == made.stage_since + timedelta(hours=96)
    # The plan reckons with what is longer than it thought, too.
    assert made.rest_hours == 96


def test_only_a_manager_cuts_it_short_and_only_with_a_reason(task, finn, maud):
    refused = cure(task, 24, finn, reason="in a hurry")
    assert refused.status == 422
    hours = f"{float(task.least_rest_hours):g}"
    assert refused.said["refused"] == f"It rests {hours} h at least. Only a manager may cut that short."
    assert "needs a reason" in cure(task, 24, maud).said["refused"]
    assert not CureSet.objects.exists()
    assert cure(task, 24, maud, reason="thumb test and the maker’s sheet").status == 200
    line = CureSet.objects.get()
    assert (line.is_shortened, line.by) == (True, maud)
    with later(25):
        assert cast.send(task, "proving", by=finn).status == 200


def test_a_rest_cut_short_stands_in_the_story(client, task, maud):
    cure(task, 24, maud, reason="thumb test")
    assert [event.row.reason for event in story(task.instrument).object_list if event.kind == "cure"] == [
        "thumb test"
    ]
    client.force_login(maud)
    page = client.get(f"/instruments/{task.instrument.number}/story/").content.decode()
    assert "rest cut short</b> to 24 h by product sheet, Maud Ferrier" in page


def test_the_hand_of_another_bench_sets_no_clock(task):
    ada = cast.person("Ada Lund", home=cast.department("action"))
    with pytest.raises(NotAllowed):
        cure(task, 96, ada)


def test_no_yes_gets_past_the_range(client, task, finn):
    client.force_login(finn)
    answer = send(client, sheet_url(task, "cure/"), hours="-3", basis="product sheet", yes="on")
    assert answer.status_code == 422


@pytest.mark.parametrize("hours", ["-3", "1e400", "NaN", "9001", "1,234", ""])
def test_hours_out_of_range_are_refused_with_the_range(client, task, finn, hours):
    client.force_login(finn)
    answer = send(client, sheet_url(task, "cure/"), hours=hours, basis="product sheet")
    assert answer.status_code == 422
    assert not CureSet.objects.exists()


def test_the_same_tap_sets_the_clock_once(client, task, finn):
    client.force_login(finn)
    for _ in range(2):
        answer = send(
            client,
            sheet_url(task, "cure/"),
            json=True,
            key="tap-of-the-clock",
            hours="72,5",
            basis="its sheet",
        )
        assert answer.status_code == 200
    assert CureSet.objects.get().hours == 72.5
    task.refresh_from_db()
    assert task.least_rest_hours == Decimal("72.5")


def test_the_sheet_says_when_it_may_be_touched(client, task, finn, maud):
    client.force_login(finn)
    page = client.get(sheet_url(task)).content.decode()
    assert "Earliest touch: " in page
    assert "Shorter is for a manager" in page
    client.force_login(maud)
    assert "Why shorter" in client.get(sheet_url(task)).content.decode()


def test_a_task_that_never_rests_has_no_clock(maud, finn):
    bench = cast.department(
        "plating", stages=[("rack", "on the rack", "racked"), ("signed", "signed", "signed")]
    )
    op = cast.operation("hw-inventory", at=bench, sheet="plating")
    made = cast.task(op, on=cast.instrument(by=maud), by=maud)
    assert "no stage in which it rests" in cure(made, 5, maud).said["refused"]
