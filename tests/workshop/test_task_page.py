"""One task open on the bench: cautions first, then the next step, then everything else."""

from __future__ import annotations

from datetime import timedelta

import pytest
from django.db import connection
from django.test.utils import CaptureQueriesContext
from django.urls import reverse

from shopflow.catalogue.models import Caution
from shopflow.common import clock
from shopflow.workshop.models import HoursSpent
from shopflow.workshop.services import moves
from tests import cast

pytestmark = pytest.mark.django_db


@pytest.fixture
def maud():
    cast.shop()
    return cast.manager()


@pytest.fixture
def finn(maud):
    return cast.finisher()


@pytest.fixture
def strip(maud):
    piano = cast.instrument(by=maud, number="214", fragile="cracked music desk")
    op = cast.operation("strip", evidence="photo of each face", what="take the old finish off")
    op.cautions.add(
        Caution.objects.create(code="strippers", title="Paint strippers", text="Strong ventilation.")
    )
    return cast.task(op, on=piano, by=maud)


def page(client, person, task):
    client.force_login(person)
    return client.get(reverse("workshop:task", args=[task.pk]))


def test_cautions_come_before_the_button_and_defer_to_those_who_know(client, finn, strip):
    said = page(client, finn, strip).content.decode()
    assert "Strong ventilation." in said
    assert "Follow local codes, the product's safety data sheet and licensed practice" in said
    assert said.index("Strong ventilation.") < said.index("Take to the bench")


def test_it_says_what_to_record_and_that_the_hours_are_a_planning_figure(client, finn, strip):
    said = page(client, finn, strip).content.decode()
    for words in ("photo of each face", "planning figure", "cracked music desk", "take the old finish off"):
        assert words in said


@pytest.mark.parametrize(
    ("until", "label"),
    [
        ("stripped", "Stripped: done"),
        ("built-up", "Built up: done"),
        ("hardening", "Rest is over"),
        ("proving", "Pass and sign"),
    ],
)
def test_the_button_says_what_is_done(client, finn, strip, until, label):
    cast.walk(strip, by=finn, until=until)
    assert label in page(client, finn, strip).content.decode()


def test_a_signed_task_has_no_next_step_but_can_be_undone(client, finn, strip):
    cast.walk(strip, by=finn)
    answer = page(client, finn, strip)
    said = answer.content.decode()
    assert answer.context["opened"].row is None
    assert "Signed on" in said
    assert reverse("workshop:undo", args=[strip.pk]) in said
    assert reverse("workshop:move", args=[strip.pk]) not in said


def test_a_hand_of_another_bench_sees_it_without_buttons(client, strip):
    plater = cast.finisher("Pia Orme", home=cast.department("plating"))
    said = page(client, plater, strip).content.decode()
    assert "Strong ventilation." in said
    assert "data-tap" not in said
    assert "ask a manager to lend you here" in said


def test_a_task_that_is_not_there_is_not_found(client, finn):
    client.force_login(finn)
    assert client.get("/tasks/999/").status_code == 404
    assert client.get(f"/tasks/{10**30}/").status_code == 404


def test_the_story_tells_who_when_and_that_a_tap_came_late(client, finn, strip):
    answer = cast.send(strip, "stripped", by=finn)
    assert answer.status == 200
    said = page(client, finn, strip).content.decode()
    assert "Finn Tarrow: “on the rack” → “stripped”" in said
    assert "late:" not in said
    strip.refresh_from_db()
    moves.move_task(
        task_id=strip.pk,
        to_stage_id=cast.stage(strip, "built-up").pk,
        seen_stage_id=strip.stage_id,
        by=finn,
        tap=cast.tap(finn, tapped_at=clock.now() - timedelta(minutes=20)),
    )
    assert "late:" in page(client, finn, strip).content.decode()


def test_someone_elses_fresh_move_offers_no_undo_but_to_a_manager(client, finn, maud, strip):
    cast.send(strip, "stripped", by=finn)
    greta = cast.finisher("Greta Lunt")
    assert page(client, finn, strip).context["opened"].undoable is not None
    assert page(client, greta, strip).context["opened"].undoable is None
    assert page(client, maud, strip).context["opened"].undoable is not None


def test_a_manager_is_offered_the_way_past_the_order_and_a_hand_is_not(client, finn, maud, strip):
    sand = cast.task(cast.operation("sand"), on=strip.instrument, by=maud, needs=[strip])
    assert "all the same" in page(client, maud, sand).content.decode()
    assert "all the same" not in page(client, finn, sand).content.decode()


def test_what_someone_typed_is_shown_as_text(client, finn, strip):
    strip.instrument.fragile = "<script>alert(1)</script> {{7*7}}"
    strip.instrument.save()
    said = page(client, finn, strip).content.decode()
    assert "&lt;script&gt;alert(1)&lt;/script&gt; {{7*7}}" in said


def test_the_number_of_queries_is_the_same_for_a_long_story(client, finn, strip):
    client.force_login(finn)
    counted = []
    for until in ("stripped", "proving"):
        cast.walk(strip, by=finn, until=until)
        HoursSpent.objects.create(task=strip, person=finn, hours=1, worked_on=clock.today())
        with CaptureQueriesContext(connection) as queries:
            assert client.get(reverse("workshop:task", args=[strip.pk])).status_code == 200
        counted.append(len(queries))
    assert counted[0] == counted[1]
