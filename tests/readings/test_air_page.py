"""The log of the rooms' air."""

from __future__ import annotations

from datetime import timedelta

import pytest

from shopflow.common import clock
from shopflow.readings.models import Computed, RoomAir
from tests import cast

from .sheet_cast import send, sheet_url, task_with_sheet

pytestmark = pytest.mark.django_db
GIVEN = {"room": "Booth", "temp_c": "20,5", "rh_percent": "55"}


@pytest.fixture(autouse=True)
def shop():
    return cast.shop()


@pytest.fixture
def finn():
    return cast.finisher()


def test_a_stranger_sees_and_writes_nothing(client):
    client.force_login(cast.stranger())
    assert client.get("/air/").status_code == 403
    assert send(client, "/air/note/", **GIVEN).status_code == 403
    assert not RoomAir.objects.exists()


def test_any_bench_writes_the_air_of_a_room_once_per_tap(client, finn):
    client.force_login(finn)
    assert "No air is written down yet" in client.get("/air/").content.decode()
    for _ in range(2):
        assert send(client, "/air/note/", json=True, key="tap-of-the-glass", **GIVEN).status_code == 200
    line = RoomAir.objects.get()
    assert (line.room, line.temp_c, line.rh_percent, line.typed, line.by) == (
        "Booth",
        20.5,
        55,
        "20,5 °C, 55 %",
        finn,
    )


def test_an_inch_shop_types_fahrenheit(client, finn):
    cast.shop(units="inch")
    client.force_login(finn)
    send(client, "/air/note/", **(GIVEN | {"temp_c": "70"}))
    assert RoomAir.objects.get().temp_c == pytest.approx(21.11, abs=0.005)
    assert "70.0 °F" in client.get("/air/").content.decode()


@pytest.mark.parametrize(
    ("field", "typed"),
    [
        ("temp_c", "-50"),
        ("temp_c", "1e400"),
        ("rh_percent", "140"),
        ("rh_percent", "NaN"),
        ("rh_percent", "0"),
        ("room", ""),
    ],
)
def test_what_cannot_be_is_refused_with_the_range(client, finn, field, typed):
    client.force_login(finn)
    answer = send(client, "/air/note/", yes="on", **(GIVEN | {field: typed}))
    assert answer.status_code == 422
    assert not RoomAir.objects.exists()


def test_wood_settles_in_this_air_as_the_published_table_says(client, finn):
    """Wood Handbook, Table 4-2: 21.1 °C and 50 % make 9.2 %."""
    client.force_login(finn)
    send(client, "/air/note/", **(GIVEN | {"temp_c": "21,1", "rh_percent": "50"}))
    assert "Wood settles at 9.2 % in this air." in client.get("/air/").content.decode()


def test_each_room_is_drawn_and_asked_for_in_one_go(client, finn, django_assert_max_num_queries):
    for room in ("Booth", "Soundboard room"):
        for back in range(50):
            at = clock.now() - timedelta(days=back)
            RoomAir.objects.create(room=room, temp_c=20, rh_percent=40 + back % 7, by=finn, at=at)
    client.force_login(finn)
    client.get("/air/")
    with django_assert_max_num_queries(6):
        page = client.get("/air/").content.decode()
    assert page.count('<figure class="chart">') == 6
    assert "Booth: moisture of wood at rest" in page


def test_the_same_air_as_just_now_is_one_tap_on_the_sheet(client, finn):
    maud = cast.manager()
    task = task_with_sheet(by=maud)
    client.force_login(finn)
    send(client, "/air/note/", **GIVEN)
    page = client.get(sheet_url(task)).content.decode()
    assert "same air as in Booth at " in page
    row = RoomAir.objects.get()
    given = {"air": str(row.pk), "surface_c": "19", "margin_c": "3", "highest_rh": "85"}
    assert send(client, sheet_url(task, "sum/may-coat/"), **given).status_code == 303
    typed = Computed.objects.get().typed
    assert (typed["temp_c"]["value"], typed["rh"]["value"]) == (20.5, 55)


def test_air_of_yesterday_is_not_offered_but_a_kept_tap_still_means_it(client, finn):
    task = task_with_sheet(by=cast.manager())
    old = RoomAir.objects.create(
        room="Booth", temp_c=20, rh_percent=50, by=finn, at=clock.now() - timedelta(hours=20)
    )
    client.force_login(finn)
    assert "same air as" not in client.get(sheet_url(task)).content.decode()
    given = {"air": str(old.pk), "surface_c": "19", "margin_c": "3", "highest_rh": "85"}
    assert send(client, sheet_url(task, "sum/may-coat/"), **given).status_code == 303
    no_air = given | {"air": "typed"}
    answer = send(client, sheet_url(task, "sum/may-coat/"), **no_air)
    assert answer.status_code == 422
    assert "Type it, or choose the air of a room." in answer.content.decode()
