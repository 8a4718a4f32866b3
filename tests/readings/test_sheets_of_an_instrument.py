"""All sheets of one instrument, its pairs of before and after, and the same as files."""

from __future__ import annotations

import csv
import io

import pytest

from shopflow.readings.measures import Measure
from shopflow.readings.models import Reading
from shopflow.readings.selectors.pairs import before_after
from shopflow.readings.services import sheets
from tests import cast

from .sheet_cast import reading_kind, send, sheet_url, task_with_sheet

pytestmark = pytest.mark.django_db


@pytest.fixture
def maud():
    cast.shop()
    return cast.manager()


@pytest.fixture
def task(maud):
    return task_with_sheet(by=maud)


@pytest.fixture
def kind():
    return reading_kind()


def take(task, kind, by, value, phase, place="lid", **given):
    measure = Measure(str(value), "µm", value)
    return sheets.take_reading(
        task_id=task.pk, sheet="finishing", kind=kind, measure=measure, phase=phase, place=place, by=by,
        tap=cast.tap(by), **given,
    )  # fmt: skip


def test_a_stranger_sees_no_sheets(client, task):
    client.force_login(cast.stranger())
    assert client.get(f"/instruments/{task.instrument.number}/readings/").status_code == 403


def test_a_pair_is_the_first_before_and_the_last_after_at_the_same_place(maud, task, kind):
    for value, phase in ((40, "before"), (55, "before"), (70, "during"), (100, "after"), (120, "after")):
        take(task, kind, maud, value, phase)
    take(task, kind, maud, 30, "before", place="sides")
    (pair,) = before_after(task.instrument)
    assert (pair.before.value, pair.after.value, pair.name) == (
        "40 µm",
        "120 µm",
        "Film thickness, lacquer, lid",
    )


def test_struck_readings_make_no_pair(maud, task, kind):
    take(task, kind, maud, 40, "before")
    take(task, kind, maud, 120, "after")
    sheets.strike(line=Reading.objects.last(), reason="wrong panel", by=maud, tap=cast.tap(maud))
    assert before_after(task.instrument) == []


def test_pairs_and_all_lines_stand_on_one_page_in_a_fixed_number_of_questions(
    client, maud, task, kind, django_assert_max_num_queries
):
    client.force_login(maud)
    url = f"/instruments/{task.instrument.number}/readings/"
    assert "No sheet is filled yet" in client.get(url).content.decode()
    for place in ("lid", "sides", "fall"):
        take(task, kind, maud, 40, "before", place=place)
        take(task, kind, maud, 120, "after", place=place)
        send(client, sheet_url(task, "sum/mixing/"), total_ml="500", base="4", hardener="1")
    client.get(url)
    with django_assert_max_num_queries(12):
        page = client.get(url).content.decode()
    assert page.count("120 µm") == 6
    assert page.count("<h3>Mixing</h3>") == 3


def test_readings_and_sums_go_out_as_files(client, maud, task, kind):
    client.force_login(maud)
    take(task, kind, maud, 40, "before", place="=lid")
    send(client, sheet_url(task, "sum/mixing/"), total_ml="500", base="4", hardener="1")
    for code, seen in (
        ("readings", "'=lid"),
        ("sums", "In the pot 500 mL; Parts of base 4; Parts of hardener 1"),
    ):
        answer = client.post(f"/exports/{code}/")
        text = b"".join(answer.streaming_content).decode("utf-8-sig")
        rows = list(csv.reader(io.StringIO(text)))
        assert len(rows) == 2
        assert len(rows[0]) == len(rows[1])
        assert seen in rows[1]
