"""Who gets what from every address of the shop: each page and each deed, asked for by seven viewers.

`access_matrix.csv` holds one row for each address and method, one cell for each viewer:

    page      it is shown (2xx)                      sign-in   led to the sign-in page
    on        led on to another page (3xx)           no        refused: not this person's to do (403)
    wrong     let in, but what was sent is not       none      not to be found (404)
              taken (400, 409, 422, 428, 429)        shut      nobody is answered this way (405)

An address without a row fails here, with the row that was seen, ready to be judged and pasted. What stands in
addresses and forms: access_world.py.
"""

from __future__ import annotations

import csv
import logging
from collections.abc import Iterable, Iterator
from dataclasses import dataclass
from pathlib import Path
from typing import Any
from uuid import UUID

import pytest
from django.db import connection, transaction
from django.http import HttpResponse
from django.test import Client, TestCase, override_settings
from django.urls import URLPattern, URLResolver, get_resolver, path, reverse
from django.urls.converters import IntConverter, UUIDConverter

from .access_world import FORMS, NOT_THERE, PRIVATE, World, argument_for

MATRIX = Path(__file__).with_name("access_matrix.csv")
VIEWERS = ["anonymous", "stranger", "hand", "other hand", "manager", "manager by PIN", "owner"]
# What stands in an address that leads to nothing, by the kind of address.
NOBODYS = {IntConverter: 987654321, UUIDConverter: UUID(int=1)}
AT_A_BENCH = {"anonymous", "stranger", "hand", "other hand", "manager by PIN"}
METHODS = ["GET", "POST"]
# Pages for whoever was let in by a private link, whoever that is; see tests/offers.
CUSTOMERS = ("offers:yours", "offers:door")
# A GET may note that somebody is still here, or tries links that lead nowhere, and nothing else.
MAY_BE_TOUCHED_BY_GET = ("django_session", "people_tablet", "customers_linkvisit", "customers_wronglink")


@dataclass(frozen=True, slots=True)
class Address:
    page: str
    arguments: dict[str, Any]

    def url(self, world: World, *, without: str = "") -> str:
        """The address of something that is there; or of the same with one thing (`without`) that is not."""
        kwargs = {name: argument_for(world, self.page, name) for name in self.arguments}
        if without:
            kind = type(self.arguments[without])
            kwargs[without] = NOT_THERE.get(without, NOBODYS.get(kind, "no-such-1"))
        return reverse(self.page, kwargs=kwargs)


def addresses(resolver: URLResolver | None = None, space: str = "") -> Iterator[Address]:
    """Every address that the shop answers."""
    for found in (resolver or get_resolver()).url_patterns:
        if isinstance(found, URLResolver):
            yield from addresses(found, space + (f"{found.namespace}:" if found.namespace else ""))
        elif isinstance(found, URLPattern):
            yield Address(f"{space}{found.name}", dict(found.pattern.converters))


def known_rows() -> dict[tuple[str, str], list[str]]:
    with MATRIX.open(encoding="utf-8", newline="") as file:
        head, *rows = csv.reader(file)
    assert head == ["page", "method", *VIEWERS]
    return {(page, method): cells for page, method, *cells in rows}


def outcome(answer: HttpResponse) -> str:
    """What an answer means, in the words of the matrix; anything else is told by its number."""
    code = answer.status_code
    if code in (301, 302, 303):
        return "sign-in" if answer.headers["Location"].startswith(reverse("people:sign-in")) else "on"
    words = {403: "no", 404: "none", 405: "shut"} | dict.fromkeys((400, 409, 422, 428, 429), "wrong")
    return words.get(code, "page" if 200 <= code < 300 else str(code))


class GetWrote(AssertionError):
    pass


def nothing_is_written(execute: Any, sql: str, params: Any, many: bool, context: Any) -> Any:
    writes = sql.lstrip().upper().startswith(("INSERT", "UPDATE", "DELETE"))
    if writes and not any(f'"{table}"' in sql for table in MAY_BE_TOUCHED_BY_GET):
        raise GetWrote(sql[:200])
    return execute(sql, params, many, context)


class Asking:
    """Asks every address as every viewer, and takes back whatever that did."""

    @classmethod
    def setUpClass(cls):
        super().setUpClass()
        # A thousand refusals are meant here; their log lines would bury the one row that matters.
        logging.disable(logging.CRITICAL)
        cls.addClassCleanup(logging.disable, logging.NOTSET)

    @classmethod
    def setUpTestData(cls):
        cls.world = World()
        cls.kept = {viewer: cls.world.browser(viewer).cookies for viewer in VIEWERS}

    def ask(self, viewer: str, page: str, method: str, url: str) -> HttpResponse:
        """One request whose every effect is taken back."""
        browser = Client(raise_request_exception=True)
        browser.cookies = self.kept[viewer].copy()
        with transaction.atomic():
            try:
                if method == "POST":
                    return browser.post(url, FORMS.get(page, lambda world: {})(self.world))
                with connection.execute_wrapper(nothing_is_written):
                    return browser.get(url)
            finally:
                transaction.set_rollback(True)

    def row(self, address: Address, method: str) -> list[str]:
        url = address.url(self.world)
        return [outcome(self.ask(viewer, address.page, method, url)) for viewer in VIEWERS]

    def wrong_rows(self, known: dict[tuple[str, str], list[str]], asked: Iterable[Address]) -> list[str]:
        """Rows that are missing or other than seen, each as it was seen."""
        wrong = []
        for address in asked:
            for method in METHODS:
                seen = self.row(address, method)
                if known.get((address.page, method)) != seen:
                    wrong.append(",".join([address.page, method, *seen]))
        return wrong


class AccessMatrixTests(Asking, TestCase):
    def test_every_address_answers_every_viewer_as_the_matrix_says(self):
        wrong = self.wrong_rows(known_rows(), addresses())
        assert not wrong, "not as in tests/access_matrix.csv; seen:\n" + "\n".join(wrong)

    def test_the_matrix_has_no_row_for_an_address_that_is_gone(self):
        there = {(address.page, method) for address in addresses() for method in METHODS}
        assert set(known_rows()) <= there

    def test_what_is_not_there_is_not_found_and_never_an_error(self):
        asked = [
            (address, name, method)
            for address in addresses()
            for name in address.arguments
            for method in METHODS
        ]
        for address, name, method in asked:
            seen = outcome(self.ask("owner", address.page, method, address.url(self.world, without=name)))
            with self.subTest(page=address.page, without=name, method=method):
                # A PIN page off a tablet says "no" before it looks for anyone.
                assert seen in {"none", "shut"} or (address.page, seen) == ("people:pin", "no")

    def test_what_belongs_to_something_else_is_not_found_there(self):
        another = {"number": self.world.other_instrument.number, "pk": self.world.other_task.pk}
        tried = 0
        for address in addresses():
            # A key of an instrument is there on every instrument: nothing of another one can be named so.
            naming = address.arguments.keys() - {"phase", "note"}
            if len(naming) < 2 or not (swapped := another.keys() & address.arguments.keys()):
                continue
            kwargs = {name: argument_for(self.world, address.page, name) for name in address.arguments}
            for name in swapped:
                url = reverse(address.page, kwargs=kwargs | {name: another[name]})
                if url.startswith("/set-up/"):
                    continue  # there a row is named by one argument, the other names a button
                tried += 1
                with self.subTest(page=address.page, swapped=name):
                    assert outcome(self.ask("owner", address.page, "POST", url)) in {"none", "shut"}
        assert tried >= 2

    def test_no_page_of_a_bench_shows_anything_of_a_customer(self):
        shown, known = 0, known_rows()
        for address in addresses():
            cells = dict(zip(VIEWERS, known.get((address.page, "GET"), []), strict=False))
            for viewer in AT_A_BENCH & {viewer for viewer, cell in cells.items() if cell == "page"}:
                answer = self.ask(viewer, address.page, "GET", address.url(self.world))
                if answer.streaming:
                    continue
                shown += 1
                said = answer.content.decode(errors="replace")
                with self.subTest(page=address.page, viewer=viewer):
                    assert [private for private in PRIVATE if private in said] == []
        assert shown > 20
        office = self.ask(
            "manager", "workshop:instrument", "GET", f"/instruments/{self.world.instrument.number}/"
        )
        assert PRIVATE[0] in office.content.decode(), "what nobody sees would prove nothing"

    def test_strangers_get_no_page_but_the_doors(self):
        doors = {"people:sign-in", "people:tablet-here", "people:me", "people:me-password", "people:me-pin"}
        for (page, method), cells in known_rows().items():
            by_viewer = dict(zip(VIEWERS, cells, strict=True))
            if page.startswith(CUSTOMERS):
                # None of these viewers came by a private link: nobody gets further than the door.
                assert set(cells) <= {"none", "shut", "on" if page == "offers:door" else "none"}, page
            elif page not in doors | {"people:sign-out", "people:switch", "sampler"}:
                assert by_viewer["anonymous"] in {"sign-in", "no", "shut", "wrong"}, (page, method)
                assert by_viewer["stranger"] in {"no", "none", "shut", "on"}, (page, method)


def open_door(request: Any) -> HttpResponse:
    return HttpResponse("the year's figures")


def writes_on_get(request: Any) -> HttpResponse:
    from shopflow.common import pulse

    pulse.bump()
    return HttpResponse("done")


class Planted:
    """A shop with one more address than the real one, for the test of the test."""

    app_name = "planted"

    def __init__(self, view: Any) -> None:
        from shopflow.urls import urlpatterns

        self.urlpatterns = [*urlpatterns, path("planted/", view, name="planted")]


class TheMatrixCatchesTests(Asking, TestCase):
    """Planted faults that must be seen. Only the planted address is asked; the others are asked above."""

    def wrong_with(self, view: Any, known: dict[tuple[str, str], list[str]]) -> list[str]:
        with override_settings(ROOT_URLCONF=Planted(view)):
            return self.wrong_rows(known, [found for found in addresses() if found.page == "planted"])

    def test_an_address_without_a_row(self):
        seen = ["planted,GET" + ",page" * 7, "planted,POST" + ",page" * 7]
        assert self.wrong_with(open_door, known_rows()) == seen

    def test_a_door_left_open(self):
        asked_for = {
            ("planted", method): ["sign-in", *["no"] * 3, "page", "no", "page"] for method in METHODS
        }
        assert len(self.wrong_with(open_door, asked_for)) == 2
        as_it_is = {("planted", method): ["page"] * 7 for method in METHODS}
        assert self.wrong_with(open_door, as_it_is) == []

    def test_a_get_that_changes_something(self):
        with pytest.raises(GetWrote):
            self.wrong_with(writes_on_get, {})
