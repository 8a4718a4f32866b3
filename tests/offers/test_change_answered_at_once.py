"""An answer sent from many connections at the same moment, and two that differ: one of them counts, once."""

from __future__ import annotations

from concurrent.futures import ThreadPoolExecutor

import pytest
from django.db import close_old_connections, connection
from django.test import Client

from shopflow.offers.door import cookie_name
from shopflow.offers.models import ChangeAnswer, LeftAsFound
from shopflow.workshop.models import Snag, Task

from .links import as_customer
from .shop import Crack

pytestmark = [pytest.mark.django_db(transaction=True), pytest.mark.data_layer]

COPIES = 12


@pytest.mark.parametrize("kinds", [("do",), ("do", "leave")])
def test_one_answer_counts_whoever_else_sends_at_the_same_moment(kinds):
    crack = Crack()
    change = crack.sent()
    cookie = as_customer(crack.instrument, by=crack.manager).cookies[cookie_name()].value
    choices = [crack.choice(change, kind).pk for kind in kinds]

    def send(number: int) -> int:
        browser = Client()
        browser.cookies[cookie_name()] = cookie
        typed = {"typed_name": "Perdita Vane-Quist", "fingerprint": change.fingerprint}
        try:
            typed["choice"] = choices[number % len(choices)]
            return browser.post(f"/yours/changes/{change.number}/", typed).status_code
        finally:
            close_old_connections()
            connection.close()

    with ThreadPoolExecutor(8) as crowd:
        statuses = list(crowd.map(send, range(COPIES)))
    assert statuses.count(302) == COPIES // len(kinds)
    assert set(statuses) <= {302, 409}
    given = ChangeAnswer.objects.get()
    was_left = given.choice.kind == "leave"
    assert LeftAsFound.objects.count() == was_left
    assert Task.objects.filter(operation__code="crack-shim").count() == (not was_left)
    assert not Snag.objects.open().exists()
