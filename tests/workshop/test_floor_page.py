from __future__ import annotations

from datetime import timedelta

import pytest
from django.db import connection
from django.test.utils import CaptureQueriesContext
from django.urls import reverse

from shopflow.common import clock
from shopflow.people.models import WorkingDay
from shopflow.workshop.models import Snag, Task, TaskNeed
from shopflow.workshop.selectors import floor as questions
from shopflow.workshop.selectors.bench import bench_choices
from shopflow.workshop.selectors.floor import Filter
from shopflow.workshop.selectors.standing import State
from shopflow.workshop.services import intake, snags
from tests import cast

pytestmark = pytest.mark.django_db
FLOOR = "/floor/"


@pytest.fixture
def maud():
    return cast.manager()


@pytest.fixture
def piano(maud):
    return cast.instrument(by=maud, number="214")


def seen(client, **asked):
    return client.get(FLOOR, asked).content.decode()


def test_a_stranger_sees_nothing(client):
    assert client.get(FLOOR).status_code == 302
    client.force_login(cast.stranger())
    assert client.get(FLOOR).status_code == 403


def test_an_empty_house_says_so(client, maud):
    client.force_login(maud)
    assert "The house is empty" in seen(client)


def test_a_row_shows_number_gauge_and_count(client, maud, piano):
    strip = cast.task(cast.operation("strip"), on=piano, by=maud)
    cast.task(cast.operation("sand"), on=piano, by=maud)
    cast.walk(strip, by=maud)
    client.force_login(maud)
    page = seen(client)
    assert ">214<" in page
    assert "Refinishing, Sand: on the rack, stage 1 of 6" in page
    assert "1/2" in page


def test_a_number_typed_in_full_goes_straight_to_its_instrument(client, maud, piano):
    client.force_login(maud)
    answer = client.get(FLOOR, {"search": " 214 "})
    assert answer.headers["Location"] == piano.get_absolute_url()


@pytest.mark.parametrize("words", ["bexcombe", "4011", "21", "BEX 401"])
def test_search_finds_by_number_maker_and_serial(client, maud, piano, words):
    cast.instrument(by=maud, number="990", maker="Thistledown", serial="7")
    client.force_login(maud)
    page = seen(client, search=words)
    assert ">214<" in page
    assert ">990<" not in page


def test_a_search_that_finds_nothing_offers_everything(client, maud, piano):
    client.force_login(maud)
    assert "Nothing here fits" in seen(client, search="zzz\0")


def test_nonsense_in_the_address_shows_everything(client, maud, piano):
    client.force_login(maud)
    assert ">214<" in seen(client, only="<script>")


def test_an_owners_name_is_no_search_word_for_a_bench_hand(client, maud, piano):
    customer = cast.customer("Agnes Applegarth")
    intake.change_facts(instrument=piano, seen_version=1, facts={"customer": customer}, by=maud)
    client.force_login(cast.finisher())
    assert ">214<" not in seen(client, search="applegarth")
    client.force_login(maud)
    assert ">214<" in seen(client, search="applegarth")


def test_a_stopped_task_is_the_one_shown_and_can_be_asked_for(client, maud, piano):
    cast.task(cast.operation("strip"), on=piano, by=maud)
    sand = cast.task(cast.operation("sand"), on=piano, by=maud)
    other = cast.instrument(by=maud, number="300")
    cast.task(cast.operation("rub-out"), on=other, by=maud)
    snags.raise_snag(
        task=sand, cause=Snag.Cause.PART, reason="hinge missing", ask_again_on=clock.today(), by=maud
    )
    client.force_login(maud)
    page = seen(client, only="stopped")
    assert "stopped: hinge missing" in page
    assert ">300<" not in page


def test_a_broken_promise_is_said_in_days(client, maud, piano):
    cast.task(cast.operation("strip"), on=piano, by=maud)
    intake.promise(instrument=piano, on=clock.today() - timedelta(days=3), by=maud)
    client.force_login(maud)
    assert "3 days late" in seen(client, only="late")


def test_the_load_counts_what_hands_can_be_put_on_and_the_hours_to_be_had(maud, piano):
    bench = cast.department()
    shop = cast.shop()
    finn = cast.finisher(home=bench)
    for day in range(5):
        WorkingDay.objects.create(person=finn, weekday=day, hours=8)
    strip = cast.task(cast.operation("strip"), on=piano, by=maud)
    sand = cast.task(cast.operation("sand"), on=piano, by=maud)
    TaskNeed.objects.create(task=sand, needs=strip)
    load = questions.floor(Filter()).columns[0].load
    assert load.hours_ready == strip.hours_likely
    assert load.hours_a_week == 40 * shop.hands_on_share
    assert load.days == pytest.approx(5 * 2 / 28)
    assert load.word == "starving"
    assert load.open_tasks == 2


def test_floor_and_bench_say_the_same_of_a_bench(client, maud, piano):
    bench, shop = cast.department(), cast.shop()
    finn = cast.finisher(home=bench)
    WorkingDay.objects.create(person=finn, weekday=0, hours=8)
    cast.task(cast.operation("strip"), on=piano, by=maud)
    load = questions.floor(Filter()).columns[0].load
    (choice,) = bench_choices(viewer=finn)
    assert choice.load == load
    assert load.hours_a_week == 8 * shop.hands_on_share


def test_waiting_work_is_told_from_ready_work(maud, piano):
    strip = cast.task(cast.operation("strip"), on=piano, by=maud)
    sand = cast.task(cast.operation("sand"), on=piano, by=maud)
    TaskNeed.objects.create(task=sand, needs=strip)
    (row,) = questions.floor(Filter()).rows
    assert [one.state for one in row.shown] == [State.READY]
    cast.walk(strip, by=maud)
    (row,) = questions.floor(Filter()).rows
    assert [one.name for one in row.shown] == ["Sand"]


def test_a_poll_that_knows_the_pulse_costs_next_to_nothing(client, maud, piano):
    client.force_login(maud)
    page = client.get(FLOOR, headers={"HX-Request": "true"})
    mark = page.content.decode().split('"X-Pulse": "')[1].split('"')[0]
    known = {"HX-Request": "true", "X-Pulse": mark}
    with CaptureQueriesContext(connection) as asked:
        assert client.get(FLOOR, headers=known).status_code == 204
    assert len(asked) <= 5, [query["sql"] for query in asked]
    cast.task(cast.operation("strip"), on=piano, by=maud)
    assert client.get(FLOOR, headers=known).status_code == 200


def many(maud, count: int) -> None:
    ops = [cast.operation(f"op-{count}-{n}") for n in range(2)]
    for _ in range(count):
        one = cast.instrument(by=maud)
        for op in ops:
            cast.task(op, on=one, by=maud)


def queries(client) -> int:
    with CaptureQueriesContext(connection) as asked:
        assert client.get(FLOOR).status_code == 200
    return len(asked)


def test_the_floor_asks_as_little_for_many_as_for_few(client, maud):
    cast.shop()
    client.force_login(maud)
    many(maud, 2)
    few = queries(client)
    many(maud, 20)
    Task.objects.filter(pk__in=Task.objects.values("pk")[:15]).update(stage=Task.objects.first().stage)
    assert queries(client) == few
    assert few <= 16


@pytest.mark.slow
def test_the_floor_asks_as_little_for_a_thousand_instruments(client, maud):
    cast.shop()
    client.force_login(maud)
    many(maud, 10)
    few = queries(client)
    cast.crowd(990)
    assert queries(client) == few


def test_home_is_the_floor_for_the_office_and_a_bench_for_hands(client, maud):
    client.force_login(maud)
    assert client.get("/").headers["Location"] == reverse("workshop:floor")
    client.force_login(cast.finisher())
    assert client.get("/").headers["Location"] == reverse("workshop:benches")
