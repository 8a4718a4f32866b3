"""The sheet of a task: who sees it, who writes on it, and what a tap does to it."""

from __future__ import annotations

from json import dumps

import pytest

from shopflow.common import clock
from shopflow.people.models import Role
from shopflow.readings.models import BenchSheet, CautionSeen, Computed, Reading
from shopflow.workshop.models import Task
from tests import cast

from .sheet_cast import caution, reading_kind, send, sheet_url, task_with_sheet

pytestmark = pytest.mark.django_db

AIR = {"temp_c": "20", "rh": "65", "surface_c": "16,3", "margin_c": "3", "highest_rh": "85"}


@pytest.fixture
def maud():
    cast.shop()
    return cast.manager()


@pytest.fixture
def finn(maud):
    return cast.finisher()


@pytest.fixture
def task(maud):
    reading_kind()
    return task_with_sheet(by=maud)


def film(client, task, *, json=False, **given):
    fields = {"kind": "lacquer-film", "phase": "before", "place": "lid", "typed": "120"}
    return send(client, sheet_url(task, "read/"), json=json, **(fields | given))


def test_a_stranger_is_turned_away_and_nothing_is_written(client, task):
    client.force_login(cast.stranger())
    assert client.get(sheet_url(task)).status_code == 403
    assert film(client, task).status_code == 403
    assert film(client, task, json=True).json()["words"]
    assert not BenchSheet.objects.exists()


def test_nobody_is_led_to_the_sign_in_and_the_outbox_keeps_its_tap(client, task):
    assert film(client, task).headers["Location"].startswith("/sign-in/")
    assert film(client, task, json=True).status_code == 401


def test_the_hand_of_another_bench_sees_the_sheet_but_writes_nothing_on_it(client, task):
    client.force_login(cast.person("Ada Lund", home=cast.department("action")))
    page = client.get(sheet_url(task)).content.decode()
    assert "ask a manager to lend you here" in page
    assert "Keep this reading" not in page
    for tail, fields in (("read/", {"kind": "lacquer-film", "phase": "before", "typed": "1"}),
                         ("sum/may-coat/", AIR), ("cure/", {"hours": "900", "basis": "x"})):  # fmt: skip
        assert send(client, sheet_url(task, tail), **fields).status_code == 403
    assert not Reading.objects.exists()
    assert not Computed.objects.exists()


def test_a_sheet_is_opened_by_writing_on_it_and_not_by_looking(client, finn, task):
    client.force_login(finn)
    assert client.get(f"/tasks/{task.pk}/sheet/").status_code == 200
    assert not BenchSheet.objects.exists()
    assert film(client, task).status_code == 303
    sheet = BenchSheet.objects.get()
    assert (sheet.kind, sheet.task, sheet.opened_by) == ("finishing", task, finn)


def test_a_reading_is_kept_as_typed_with_its_unit_and_in_the_kept_one(client, finn, task):
    cast.shop(units="inch")
    client.force_login(finn)
    film(client, task, typed="4,5")
    line = Reading.objects.get()
    assert (line.typed, line.unit, line.phase, line.place, line.by) == ("4,5", "mil", "before", "lid", finn)
    assert line.value == pytest.approx(114.3)
    assert "4.50 mil" in client.get(sheet_url(task)).content.decode()
    cast.shop(units="metric")
    shown = client.get(sheet_url(task)).content.decode()
    assert "114 µm" in shown
    assert "typed 4,5 mil" in shown
    film(client, task, typed="115,25")
    film(client, task, typed="116,0")
    shown = client.get(sheet_url(task)).content.decode()
    assert "typed 115,25 µm" in shown
    assert "typed 116" not in shown


def test_the_same_tap_twice_is_one_reading(client, finn, task):
    client.force_login(finn)
    for _ in range(3):
        answer = film(client, task, json=True, key="tap-of-the-comb")
        assert answer.status_code == 200
    assert Reading.objects.count() == 1
    assert film(client, task, json=True, key="tap-of-the-comb", typed="130").status_code == 422
    assert Reading.objects.get().typed == "120"


@pytest.mark.parametrize("typed", ["NaN", "1e400", "Infinity", "", "12..5", "1,234"])
def test_a_value_that_is_no_number_comes_back_with_what_was_typed(client, finn, task, typed):
    client.force_login(finn)
    answer = film(client, task, typed=typed)
    assert answer.status_code == 422
    assert f'value="{typed}"' in answer.content.decode() or typed == ""
    assert not Reading.objects.exists()


def test_a_value_beyond_sense_is_asked_about_and_kept_with_a_mark_only_after_a_yes(client, finn, task):
    client.force_login(finn)
    answer = film(client, task, typed="99 999".replace(" ", ""))
    assert answer.status_code == 422
    said = answer.content.decode()
    assert "possible is 0 to 2,000 µm" in said
    assert "Measured again?" in said
    assert film(client, task, json=True, typed="-3").json()["ask"] is True
    assert not Reading.objects.exists()
    assert film(client, task, typed="99999", yes="on").status_code == 303
    line = Reading.objects.get()
    assert line.measured_again
    assert "Measured again, beyond what is possible." in client.get(sheet_url(task)).content.decode()


def test_a_yes_marks_nothing_that_is_possible(client, finn, task):
    client.force_login(finn)
    film(client, task, yes="on")
    assert not Reading.objects.get().measured_again


def test_a_reading_kept_on_a_shared_tablet_is_sent_as_the_one_who_took_it(client, finn, task, maud):
    at = cast.tablet()
    cast.by_pin(client, finn, at)
    mark = client.get(sheet_url(task)).content.decode().partition('data-hand="')[2].partition('"')[0]
    other = cast.person("Bea Cole", home=task.department)
    waited = {"key": "key-of-the-film", "kind": "lacquer-film", "phase": "during", "typed": "120"}
    said = [{"url": sheet_url(task, "read/"), "fields": list(waited.items())}]
    client.post("/sign-out/", {"waiting": dumps(said)})
    cast.by_pin(client, other, at)
    late = {"as": mark, "tapped_at": clock.now().isoformat()}
    assert (
        send(client, sheet_url(task, "read/"), json=True, **waited | {"typed": "90"}, **late).status_code
        == 423
    )
    assert send(client, sheet_url(task, "read/"), json=True, **waited, **late).status_code == 200
    assert Reading.objects.get().by == finn


def test_a_sum_keeps_what_was_typed_what_came_out_and_its_version(client, finn, task):
    client.force_login(finn)
    answer = send(client, sheet_url(task, "sum/may-coat/"), **AIR)
    assert answer.status_code == 303
    line = Computed.objects.get()
    assert line.typed["surface_c"] == {
        "label": "The work itself",
        "typed": "16,3",
        "unit": "°C",
        "value": 16.3,
    }
    said = {one["name"]: one["value"] for one in line.outputs["said"]}
    assert said["dew_point_c"] == pytest.approx(13.22, abs=0.005)
    assert line.version == "film 1"
    assert line.verdict == "By dew point and humidity a coat may go on."
    page = client.get(sheet_url(task)).content.decode()
    assert "13.2 °C" in page
    assert "The work and the dew point" in page


def test_what_was_worked_out_once_stays_when_the_same_tap_comes_again(client, finn, task):
    client.force_login(finn)
    for _ in range(2):
        assert (
            send(client, sheet_url(task, "sum/may-coat/"), json=True, key="tap-of-the-dew", **AIR).status_code
            == 200
        )
    assert Computed.objects.count() == 1


def test_a_sum_beyond_its_range_is_asked_about_and_kept_without_an_answer(client, finn, task):
    client.force_login(finn)
    odd = AIR | {"temp_c": "200"}
    answer = send(client, sheet_url(task, "sum/may-coat/"), **odd)
    assert answer.status_code == 422
    assert "possible is -45 to 60 °C. Measured again?" in answer.content.decode()
    assert send(client, sheet_url(task, "sum/may-coat/"), json=True, **odd).json()["ask"] is True
    assert not Computed.objects.exists()
    assert send(client, sheet_url(task, "sum/may-coat/"), yes="on", **odd).status_code == 303
    line = Computed.objects.get()
    assert line.measured_again
    assert line.outputs["said"] == []
    assert client.get(sheet_url(task)).status_code == 200


def test_a_yes_does_not_excuse_what_is_no_number(client, finn, task):
    client.force_login(finn)
    answer = send(client, sheet_url(task, "sum/may-coat/"), yes="on", **(AIR | {"temp_c": "warm"}))
    assert answer.status_code == 422
    assert not Computed.objects.exists()


def test_a_struck_line_stays_to_be_seen_with_its_reason(client, finn, task):
    client.force_login(finn)
    film(client, task)
    line = Reading.objects.get()
    url = sheet_url(task, f"strike/reading/{line.pk}/")
    assert send(client, url, reason="").status_code == 422
    assert send(client, url, reason="wrong panel", key="tap-of-the-pencil").status_code == 303
    assert send(client, url, reason="wrong panel", key="tap-of-the-pencil").status_code == 303
    line.refresh_from_db()
    assert (line.struck_by, line.struck_reason) == (finn, "wrong panel")
    assert "Struck</b> by Finn Tarrow: wrong panel" in client.get(sheet_url(task)).content.decode()
    assert send(client, url, reason="again").status_code == 422


def test_a_line_of_another_task_cannot_be_struck_here(client, finn, task, maud):
    client.force_login(finn)
    film(client, task)
    other = cast.task(task.operation, on=cast.instrument(by=maud), by=maud)
    url = sheet_url(other, f"strike/reading/{Reading.objects.get().pk}/")
    assert send(client, url, reason="not mine").status_code == 404


def test_cautions_stand_on_top_until_they_are_read_once_by_each(client, finn, task, maud):
    task.operation.cautions.add(caution("wood-dust-x"))
    caution("solvents-spray")
    client.force_login(finn)
    first = client.get(sheet_url(task)).content.decode()
    assert first.index("What may hurt") < first.index("May we coat now?")
    assert "I have read this" in first
    assert "none-read" in first
    for _ in range(2):
        assert send(client, sheet_url(task, "seen/"), key="tap-of-the-reader").status_code == 303
    assert CautionSeen.objects.filter(person=finn, task=task).count() == 2
    again = client.get(sheet_url(task)).content.decode()
    assert "I have read this" not in again
    assert "none-read" not in again
    assert "Fan on before the gun." in again
    client.force_login(maud)
    assert "I have read this" in client.get(sheet_url(task)).content.decode()


def test_the_stage_it_stands_in_has_cautions_of_its_own(client, finn, task):
    cast.stage(task, "stripped").cautions.add(caution("paint-strippers"))
    client.force_login(finn)
    for url in (sheet_url(task), f"/tasks/{task.pk}/"):
        assert "Fan on before the gun." not in client.get(url).content.decode()
    cast.send(task, "stripped", by=finn)
    for url in (sheet_url(task), f"/tasks/{task.pk}/"):
        assert "Fan on before the gun." in client.get(url).content.decode()


def test_the_news_of_a_sheet_bring_its_answers_and_not_its_forms(client, finn, task):
    client.force_login(finn)
    send(client, sheet_url(task, "sum/may-coat/"), **AIR)
    news = client.get(sheet_url(task), headers={"HX-Request": "true"}).content.decode()
    assert 'id="answers-may-coat"' in news
    assert "<form" not in news.replace('<form class="row"', "")
    assert "<html" not in news


def test_a_task_whose_work_has_no_sheet_says_so(client, finn, maud):
    plain = cast.task(cast.operation("strip"), on=cast.instrument(by=maud), by=maud)
    client.force_login(finn)
    assert "has no bench sheet" in client.get(f"/tasks/{plain.pk}/sheet/").content.decode()
    assert client.get(sheet_url(plain)).status_code == 404
    assert send(client, sheet_url(plain, "read/")).status_code == 404


def test_where_something_heavy_is_moved_the_lifting_sheet_is_at_hand(client, finn, task):
    task.operation.cautions.add(caution("lifting"))
    client.force_login(finn)
    assert client.get(sheet_url(task, kind="lifting")).status_code == 200
    assert f'href="{sheet_url(task, kind="lifting")}"' in client.get(sheet_url(task)).content.decode()


def test_a_dropped_task_takes_no_more_readings(client, finn, task):
    Task.objects.filter(pk=task.pk).update(dropped_at=clock.now(), dropped_by=finn, dropped_reason="not sold")
    client.force_login(finn)
    assert film(client, task).status_code == 422
    assert not Reading.objects.exists()


@pytest.mark.parametrize("role", [Role.HAND, Role.MANAGER])
def test_the_sheet_asks_the_same_number_of_questions_however_full_it_is(
    client, task, role, django_assert_max_num_queries
):
    person = cast.person("Quill", role, home=task.department)
    client.force_login(person)
    client.get(sheet_url(task))
    with django_assert_max_num_queries(20):
        client.get(sheet_url(task))
    for number in range(6):
        film(client, task, place=f"panel {number}")
        send(client, sheet_url(task, "sum/may-coat/"), **AIR)
    with django_assert_max_num_queries(20):
        client.get(sheet_url(task))
