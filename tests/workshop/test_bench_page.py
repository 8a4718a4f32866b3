"""What a bench's tablet shows, and to whom."""

from __future__ import annotations

from datetime import date, timedelta

import pytest
from django.db import connection
from django.test.utils import CaptureQueriesContext
from django.urls import reverse

from shopflow.catalogue.knowledge import knowledge
from shopflow.common import clock
from shopflow.customers.models import Customer
from shopflow.photos.models import Photo
from shopflow.workshop.models import Snag, TaskPhoto
from shopflow.workshop.services import snags
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
    piano = cast.instrument(by=maud, number="214", fragile="cracked music desk", place="bay 3")
    return cast.task(cast.operation("strip"), on=piano, by=maud)


def bench_url(code="refinishing"):
    return reverse("workshop:bench", args=[code])


def page(client, person, url=None, **headers):
    client.force_login(person)
    return client.get(url or bench_url(), headers=headers)


def section(answer, slug):
    return next((part for part in answer.context["work"].sections if part.slug == slug), None)


def test_nobody_is_led_to_the_sign_in_page(client, strip, settings):
    settings.LOGIN_URL = "/sign-in/"
    answer = client.get(bench_url())
    assert answer.status_code == 302
    assert "next=/bench/refinishing/" in answer["Location"]


def test_a_stranger_sees_no_bench(client, strip):
    for url in (bench_url(), reverse("workshop:benches"), reverse("workshop:task", args=[strip.pk])):
        assert page(client, cast.stranger(f"Stray {url}"[:50].replace("/", "")), url).status_code == 403


def test_a_bench_that_is_not_there_is_not_found(client, finn):
    assert page(client, finn, bench_url("upholstery")).status_code == 404


def test_a_hand_sees_its_work_with_one_button_to_the_next_stage(client, finn, strip):
    answer = page(client, finn)
    said = answer.content.decode()
    assert answer.status_code == 200
    assert [row.task for row in section(answer, "ready").rows] == [strip]
    for words in (
        "214",
        "Strip",
        "Bexcombe upright, 1904",
        "bay 3",
        "cracked music desk",
        "Take to the bench",
    ):
        assert words in said


def test_a_hand_of_another_bench_sees_the_work_without_buttons_and_why(client, strip):
    plater = cast.finisher("Pia Orme", home=cast.department("plating"))
    said = page(client, plater).content.decode()
    assert "cracked music desk" in said
    assert "Take to the bench" not in said
    assert "ask a manager to lend you here" in said


def test_a_bench_page_shows_nothing_of_the_customer(client, finn, maud):
    owner = Customer.objects.create(name="Wilhelmina Undercroft", phone="0111 222", email="w@u.example")
    piano = cast.instrument(by=maud, customer=owner)
    piece = cast.task(cast.operation("strip"), on=piano, by=maud)
    for url in (bench_url(), reverse("workshop:task", args=[piece.pk])):
        said = page(client, finn, url).content.decode()
        assert not [secret for secret in ("Undercroft", "0111 222", "w@u.example") if secret in said]


def test_the_earliest_promise_comes_first_then_the_longest_in_the_house(client, finn, maud):
    today = clock.today()
    late = cast.instrument(by=maud, number="7", promised_on=today + timedelta(days=30))
    soon = cast.instrument(by=maud, number="8", promised_on=today + timedelta(days=3))
    old = cast.instrument(by=maud, number="5", arrived=today - timedelta(days=90))
    new = cast.instrument(by=maud, number="6", arrived=today - timedelta(days=2))
    strip = cast.operation("strip")
    for piano in (new, late, old, soon):
        cast.task(strip, on=piano, by=maud)
    answer = page(client, finn)
    rows = section(answer, "ready").rows
    assert [row.task.instrument.number for row in rows] == ["8", "7", "5", "6"]
    assert "in 3 days" in rows[0].why
    assert rows[2].why.startswith("no date promised; in the house since")


def test_work_that_waits_says_for_what_where_and_at_which_stage(client, finn, maud, strip):
    plate = cast.task(
        cast.operation("plate-hinges", at=cast.department("plating")), on=strip.instrument, by=maud
    )
    sand = cast.task(cast.operation("sand"), on=strip.instrument, by=maud, needs=[plate])
    answer = page(client, finn)
    row = section(answer, "waiting").rows[0]
    assert row.task == sand
    assert [wait.words for wait in row.waits_for] == [
        "It waits for “Plate-hinges” in Plating, now at “on the rack”."
    ]
    assert "Free once “Plate-hinges” is signed." in answer.content.decode()
    assert section(answer, "waiting").shown == []


def test_a_stopped_task_says_why_whose_it_is_and_when_to_ask(client, finn, strip):
    snags.raise_snag(
        task=strip,
        cause=Snag.Cause.CUSTOMER,
        reason="colour not chosen",
        ask_again_on=clock.today() + timedelta(days=3),
        by=finn,
        owner_outside="the owner's daughter",
    )
    answer = page(client, finn)
    said = answer.content.decode()
    assert [row.task for row in section(answer, "stopped").rows] == [strip]
    assert "Stopped: colour not chosen." in said
    assert "Owner: the owner&#x27;s daughter. Ask again" in said
    assert "Take to the bench" not in said


def test_a_resting_task_says_when_it_may_be_touched_and_comes_up_when_its_rest_is_over(client, finn, strip):
    strip.least_rest_hours = 48
    strip.save()
    cast.walk(strip, by=finn, until="hardening")
    answer = page(client, finn)
    assert section(answer, "resting").rows[0].task == strip
    said = answer.content.decode()
    assert "Earliest touch:" in said
    assert "after a rest of at least 2 days" in said
    assert "Rest is over" not in said
    assert "Nothing to do before the earliest touch" in said
    with clock.at(clock.now() + timedelta(hours=49)):
        later = page(client, finn)
    assert section(later, "resting") is None
    assert section(later, "rest-is-over").rows[0].task == strip
    assert "Rest is over" in later.content.decode()


def test_an_instrument_that_has_not_arrived_waits_for_that(client, finn, maud):
    cast.task(cast.operation("strip"), on=cast.instrument(), by=maud)
    row = section(page(client, finn), "waiting").rows[0]
    assert [wait.frees for wait in row.waits_for] == ["Free once it is taken in."]


def test_what_has_left_the_house_is_on_no_bench(client, finn, strip):
    strip.instrument.left_on = date(2026, 1, 5)
    strip.instrument.save()
    assert page(client, finn).context["work"].is_empty


def test_a_long_list_folds_what_comes_after_the_first_dozen(client, finn, maud):
    strip = cast.operation("strip")
    for _ in range(15):
        cast.task(strip, on=cast.instrument(by=maud), by=maud)
    ready = section(page(client, finn), "ready")
    assert (len(ready.shown), len(ready.rest)) == (12, 3)


def test_ones_last_tap_can_be_undone_from_the_list(client, finn, strip):
    cast.send(strip, "stripped", by=finn)
    answer = page(client, finn)
    assert answer.context["work"].last_move.target.code == "stripped"
    assert reverse("workshop:undo", args=[strip.pk]) in answer.content.decode()
    other = page(client, cast.finisher("Greta Lunt"))
    assert other.context["work"].last_move is None


def test_who_did_the_work_is_told_that_someone_else_has_to_pass_it(client, finn, strip):
    proving = cast.stage(strip, "proving")
    proving.needs_second_eyes = True
    proving.save()
    cast.walk(strip, by=finn, until="proving")
    assert "Someone else has to pass it" in page(client, finn).content.decode()
    assert "Pass and sign" in page(client, cast.finisher("Greta Lunt")).content.decode()


def test_someone_else_is_promised_only_where_a_second_pair_of_eyes_is_asked_for(client, finn, strip):
    cast.walk(strip, by=finn, until="hardening")
    proving = cast.stage(strip, "proving")
    for asked, words in ((False, "then it is checked"), (True, "then someone else checks it")):
        proving.needs_second_eyes = asked
        proving.save()
        assert words in page(client, finn).content.decode()


def test_a_stage_that_asks_for_a_photo_has_no_button_until_there_is_one(client, finn, strip):
    stage = cast.stage(strip, "stripped")
    stage.needs_photo = True
    stage.save()
    cast.send(strip, "stripped", by=finn)
    assert "Take a photo first" in page(client, finn).content.decode()
    photo = Photo.objects.create(
        instrument=strip.instrument, added_by=finn, added_at=clock.now(), state=Photo.State.READY
    )
    TaskPhoto.objects.create(task=strip, photo=photo)
    assert "Stripped: done" in page(client, finn).content.decode()
    assert cast.send(strip, "built-up", by=finn).status == 200


def test_the_fragment_is_sent_to_htmx_alone_and_not_when_nothing_changed(client, finn, strip):
    whole = page(client, finn)
    piece = page(client, finn, **{"HX-Request": "true"})
    assert "<html" in whole.content.decode()
    assert "<html" not in piece.content.decode()
    assert 'id="work"' in piece.content.decode()
    known = piece.context["pulse_mark"]
    assert page(client, finn, **{"HX-Request": "true", "X-Pulse": known}).status_code == 204
    cast.send(strip, "stripped", by=finn)
    assert page(client, finn, **{"HX-Request": "true", "X-Pulse": known}).status_code == 200


def test_a_hand_goes_straight_to_its_bench_and_finds_the_others_on_demand(client, finn, strip):
    cast.department("plating")
    assert page(client, finn, reverse("workshop:benches"))["Location"] == bench_url()
    listed = page(client, finn, reverse("workshop:benches") + "?all")
    assert [choice.department.code for choice in listed.context["choices"]] == ["refinishing", "plating"]
    assert listed.context["choices"][0].words == "1 ready"


def test_the_office_chooses_a_bench(client, maud, strip):
    answer = page(client, maud, reverse("workshop:benches"))
    assert answer.status_code == 200
    assert "Refinishing" in answer.content.decode()


def test_the_number_of_queries_does_not_grow_with_the_work(client, finn, maud):
    client.force_login(finn)
    strip, sand = cast.operation("strip"), cast.operation("sand")
    knowledge("upright")
    counted = []
    for wanted in (10, 200):
        for _ in range(wanted // 2):
            piano = cast.instrument(by=maud)
            first = cast.task(strip, on=piano, by=maud)
            cast.task(sand, on=piano, by=maud, needs=[first])
        with CaptureQueriesContext(connection) as queries:
            assert client.get(bench_url()).status_code == 200
        with CaptureQueriesContext(connection) as choosing:
            assert client.get(reverse("workshop:benches") + "?all").status_code == 200
        counted.append((len(queries), len(choosing)))
    assert counted[0] == counted[1]
    assert counted[0][0] <= 20
