"""Several forms and cards on one page: each control has a name of its own, and says truly what is needed."""

from __future__ import annotations

import re
from collections import Counter

import pytest

from tests import cast
from tests.readings.sheet_cast import caution, reading_kind, sheet_url, task_with_sheet

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
    return cast.task(cast.operation("strip"), on=cast.instrument(by=maud, number="214"), by=maud)


def page(client, path: str) -> str:
    answer = client.get(path)
    assert answer.status_code == 200
    return answer.content.decode()


def ids_in(html: str) -> list[str]:
    return re.findall(r"<[a-z][^>]*?\sid=[\"']([^\"']+)[\"']", html)


def ids_used_twice(html: str) -> list[str]:
    found = Counter(ids_in(html))
    assert found, "a page without any id is not the page that was meant"
    return [name for name, times in found.items() if times > 1]


def labels_without_control(html: str) -> set[str]:
    return set(re.findall(r"<label for=[\"']([^\"']+)[\"']", html)) - set(ids_in(html))


def test_no_id_stands_twice_on_a_bench_with_several_cards(client, finn, maud, strip):
    for _ in range(3):
        cast.task(strip.operation, on=cast.instrument(by=maud), by=maud)
    cast.send(strip, "stripped", by=finn)
    client.force_login(finn)
    assert ids_used_twice(page(client, "/bench/refinishing/")) == []


def test_no_id_stands_twice_on_a_task_with_all_its_forms(client, finn, maud, strip):
    cast.walk(strip, by=finn, until="built-up")
    client.force_login(maud)
    html = page(client, f"/tasks/{strip.pk}/")
    assert {"snag-form", "back-form", "hours-form"} <= set(ids_in(html))
    assert ids_used_twice(html) == []
    assert labels_without_control(html) == set()


def test_no_id_stands_twice_on_a_sheet_with_answers(client, finn, maud):
    reading_kind()
    caution()
    task = task_with_sheet(by=maud)
    client.force_login(finn)
    for temp_c in ("20", "9"):
        given = {"key": f"key-of-{temp_c}-degrees", "temp_c": temp_c, "rh": "65", "surface_c": "18"}
        given |= {"margin_c": "3", "highest_rh": "85"}
        assert client.post(sheet_url(task, "sum/may-coat/"), given).status_code == 303
    html = page(client, sheet_url(task))
    assert html.count('class="verdict') >= 2
    assert ids_used_twice(html) == []
    assert labels_without_control(html) == set()


def test_an_id_that_stands_twice_would_be_found():
    assert ids_used_twice('<p id="a"></p><input id="b"><b class="c" id="a"></b>') == ["a"]


def said_beside(html: str, label: str) -> str:
    found = re.search(re.escape(label) + r'(?: <span class="optional">\(([^)]*)\))?', html)
    assert found, label
    return found.group(1) or ""


def test_what_is_needed_is_not_said_to_be_free(client, finn, strip):
    cast.send(strip, "stripped", by=finn)
    client.force_login(finn)
    html = page(client, f"/tasks/{strip.pk}/")
    snag = html.partition('id="snag-form"')[2].partition("</details>")[0]
    assert said_beside(snag, "What stops it") == ""
    assert said_beside(snag, "In words") == "one of the two is needed"
    assert said_beside(snag, "Or in your own words") == "one of the two is needed"
    assert said_beside(snag, "Name of someone outside") == "may stay empty"
    assert 'data-one-of="phrase reason|ask_again ask_again_on"' in snag
    back = html.partition('id="back-form"')[2].partition("</details>")[0]
    assert said_beside(back, "In your own words") == "one of the two is needed"
    assert 'data-one-of="phrase reason"' in back
