"""One tap, sent from many connections at the same moment: one effect, equal answers."""

from __future__ import annotations

import uuid
from concurrent.futures import ThreadPoolExecutor

import pytest
from django.db import close_old_connections, connection
from django.test import Client

from shopflow.workshop.models import HoursSpent, Move
from tests import cast

pytestmark = [pytest.mark.django_db(transaction=True), pytest.mark.data_layer]

COPIES = 24


@pytest.mark.parametrize("deed", ["move", "hours"])
def test_copies_sent_at_once_are_one_deed_and_hear_the_same(deed):
    cast.shop()
    maud, finn = cast.manager(), cast.finisher()
    task = cast.task(cast.operation("strip"), on=cast.instrument(by=maud), by=maud)
    fields = {
        "key": uuid.uuid4().hex,
        "seen": task.stage_id,
        "to": cast.stage(task, "stripped").pk,
        "hours": 2,
    }
    browser = Client()
    browser.force_login(finn)
    cookie = browser.cookies["sessionid"].value

    def send(_):
        copy = Client(headers={"Accept": "application/json"})
        copy.cookies["sessionid"] = cookie
        try:
            answer = copy.post(f"/tasks/{task.pk}/{deed}/", fields)
            return answer.status_code, answer.content
        finally:
            close_old_connections()
            connection.close()

    with ThreadPoolExecutor(8) as crowd:
        answers = set(crowd.map(send, range(COPIES)))
    assert len(answers) == 1
    assert next(iter(answers))[0] == 200
    assert Move.objects.count() + HoursSpent.objects.count() == 1
