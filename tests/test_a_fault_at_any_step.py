"""A fault at any step of a deed leaves the shop as it was before: never half done.

Each form of the shop that is taken as its page shows it is sent again and again; each time another of its
writes fails, as on a full disk. What the database then holds must be what it held before. (The idea is that
of SQLite's I/O error loops, sqlite.org/testing.html.)
"""

from __future__ import annotations

import hashlib
import logging
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from datetime import timedelta
from typing import Any
from unittest import mock

import pytest
from django.apps import apps
from django.db import OperationalError, connection, transaction
from django.http import HttpResponse
from django.test import Client, TestCase, override_settings
from django.urls import path

from shopflow.common import clock
from shopflow.customers.models import Customer

from .access_world import World
from .test_access_matrix import Address, addresses
from .test_no_input_breaks_a_page import OddVisitor, taken_back

pytestmark = pytest.mark.slow

WRITES = ("INSERT", "UPDATE", "DELETE")
# Who is here, and who tried to be: kept whatever becomes of the deed. Jobs are asked for beside the deed.
BESIDE = {"Session", "SignInTry", "Tablet"}
MOST_WRITES = 40
# What has to be typed over a form as it is shown, for it to be taken.
TYPED: dict[str, Callable[[World], dict[str, Any]]] = {
    "workshop:facts": lambda world: {"serial": "99812", "maker": "Thistledown", "place": "bay 2"},
    "workshop:promise": lambda world: {"promised_on": clock.today() + timedelta(days=30)},
    "workshop:leave": lambda world: {"reason": "the owner wants it back"},
    "workshop:work-add": lambda world: {"operation": world.stopped.operation.pk},
    "workshop:work-tie": lambda world: {"needs": world.stopped.pk},
    "workshop:work-drop": lambda world: {"reason": "not wanted after all"},
    "readings:read": lambda world: {"kind": "gloss", "typed": "82", "place": "lid"},
    "readings:sum": lambda world: {"temp_c": "20", "rh": "60", "surface_c": "19"},
    "readings:strike": lambda world: {"reason": "read on the wrong panel"},
    "readings:cure": lambda world: {"hours": "48", "basis": "the sheet of the lacquer"},
    "readings:note-air": lambda world: {"room": "Booth", "temp_c": "20", "rh_percent": "55"},
    "readings:scales": lambda world: {"kind": "strung", "copy_of": world.scale.pk},
    "readings:scale-facts": lambda world: {"a4_hz": "442"},
    "readings:scale-note": lambda world: {"length_mm": "399"},
    "readings:scale-table": lambda world: {"n49-length_mm": "399"},
    "readings:touch-key": lambda world: {"down_g": "52", "up_g": "28"},
    "readings:regulating-value": lambda world: {"bass_mm": "10.4"},
    "readings:regulating-sample": lambda world: {"note": "1", "read_mm": "10.2"},
    "readings:bearing": lambda world: {"section": "bass", "front_mm": "0.9", "back_mm": "0.4"},
    "people:person-add": lambda world: {
        "name": "Ida Marl",
        "sign_in_name": "ida",
        "role": "hand",
        "home": world.bench.pk,
    },
    "catalogue:new-department": lambda world: {"name": "Tuning", "mark": "TU"},
    "catalogue:new-stage": lambda world: {"name": "dusted", "kind": "benched", "for_all": "on"},
    "catalogue:stage-button": lambda world: {"places": "1"},
}
# Lists are brought in by the manager who looked at them.
BY_THE_MANAGER = {"workshop:bring-look"}


def state_of_the_shop() -> str:
    """One print of every row of every table that a deed may change."""
    sum_up = hashlib.sha256()
    for model in apps.get_models():
        if model.__name__ not in BESIDE:
            sum_up.update(
                repr((model._meta.label, sorted(map(repr, model._base_manager.values_list())))).encode()
            )
    return sum_up.hexdigest()


@contextmanager
def blocks_of_their_own() -> Iterator[None]:
    """Inside a test's transaction a deed's own is a savepoint: let the smallest be one as well."""
    init = transaction.Atomic.__init__

    def with_savepoint(self: Any, using: Any, savepoint: bool, durable: bool) -> None:
        init(self, using, True, durable)

    with mock.patch.object(transaction.Atomic, "__init__", with_savepoint):
        yield


@contextmanager
def failing_at(step: int) -> Iterator[list[str]]:
    """Let the write of this number fail; the list tells which ones came so far."""
    seen: list[str] = []

    def execute(run: Callable[..., Any], sql: str, params: Any, many: bool, context: Any) -> Any:
        if sql.lstrip().upper().startswith(WRITES) and "django_session" not in sql:
            seen.append(sql)
            if len(seen) == step:
                raise OperationalError("disk I/O error")
        return run(sql, params, many, context)

    with connection.execute_wrapper(execute):
        yield seen


class Trouble:
    """Sends the forms of the shop, as their pages show them, into a database that fails."""

    def __init__(self, world: World) -> None:
        self.world = world
        self.visitor = OddVisitor(world)
        self.before = state_of_the_shop()

    def send(self, address: Address) -> HttpResponse:
        browser = Client(raise_request_exception=False)
        viewer = "manager" if address.page in BY_THE_MANAGER else "owner"
        browser.cookies = self.visitor.browsers[viewer].cookies.copy()
        typed = TYPED.get(address.page, lambda world: {})(self.world)
        return browser.post(address.url(self.world), self.visitor.usual_form(address) | typed)

    def writes_of(self, address: Address) -> int:
        """How many writes this deed takes; none when the form is not taken as it stands."""
        with taken_back(), failing_at(0) as seen:
            answer = self.send(address)
            return len(seen) if answer.status_code < 400 else 0

    def half_done(self, address: Address, writes: int) -> list[str]:
        """The steps after whose failure something of the deed remained."""
        found = []
        for step in range(1, min(writes, MOST_WRITES) + 1):
            with taken_back():
                with blocks_of_their_own(), failing_at(step) as seen:
                    self.send(address)
                # Outside the test's own transaction, a write that failed alone spoils nothing else.
                connection.needs_rollback = False
                if state_of_the_shop() != self.before:
                    found.append(f"{address.page}: write {step} of {writes} failed, {seen[step - 1][:60]}")
        return found


def half_a_deed(request: Any) -> HttpResponse:
    Customer.objects.create(name="the first")
    Customer.objects.create(name="the second")
    return HttpResponse("done")


class FaultAtAnyStepTests(TestCase):
    @classmethod
    def setUpTestData(cls):
        cls.world = World()

    def setUp(self):
        logging.disable(logging.CRITICAL)
        self.addCleanup(logging.disable, logging.NOTSET)
        self.trouble = Trouble(self.world)

    def test_a_deed_is_done_whole_or_not_at_all(self):
        asked = list(addresses())
        self.trouble.visitor.look_around(asked)
        writes = {address.page: self.trouble.writes_of(address) for address in asked}
        assert sum(count > 1 for count in writes.values()) > 20, writes
        found = [
            fault for address in asked for fault in self.trouble.half_done(address, writes[address.page])
        ]
        assert not found, "\n".join(found)

    def test_a_deed_without_a_transaction_is_caught(self):
        planted = type("urls", (), {"urlpatterns": [path("planted/", half_a_deed, name="planted")]})
        with override_settings(ROOT_URLCONF=planted):
            assert len(self.trouble.half_done(Address("planted", {}), 2)) == 1
