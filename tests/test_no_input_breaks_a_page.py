"""No input breaks a page: every address of the shop is sent odd things, and none may answer with a fault.

The addresses come from the URLconf, the fields from the forms that the pages themselves show: a new page is
tried as soon as it stands there. What is sent is drawn from the odd values below, from a seed that is the
address's name, so that a failure repeats. `SHOPFLOW_ODD_INPUTS=200` tries each address harder.
"""

from __future__ import annotations

import logging
import os
import random
from collections import defaultdict
from collections.abc import Iterator
from html.parser import HTMLParser
from typing import Any
from urllib.parse import parse_qsl, urlsplit

import pytest
from django.core.files.uploadedfile import SimpleUploadedFile
from django.db import transaction
from django.http import HttpResponse
from django.test import TestCase, override_settings
from django.urls import Resolver404, path, resolve

from .access_world import FORMS, World
from .test_access_matrix import Address, addresses

pytestmark = pytest.mark.slow

INPUTS = int(os.environ.get("SHOPFLOW_ODD_INPUTS", "20"))
VIEWERS = ["owner"] * 5 + ["manager"] * 2 + ["hand"] * 2 + ["anonymous", "stranger"] + ["customer"] * 2
Fields = dict[str, list[str]]

ODD_TEXTS = [
    *(
        "",
        " ",
        "\u200b\u200d",
        "\0",
        "a\0b",
        "\u202eabc",
        "\ud800",
        "e" + "\u0301" * 200,
        "\x1b[31m\r\nINFO no",
    ),
    *(
        "<script>alert(1)</script>",
        "{{7*7}}{% now 'Y' %}",
        "javascript:alert(1)",
        "=HYPERLINK(1)",
        "%00%s%n",
        "'\"--",
    ),
    *("x" * 301, "y" * 70_000, "😀" * 90, "../../etc/passwd", "a/b", "null", "True", "[]", "Ω=漢字"),
]
ODD_NUMBERS = [
    *(
        "-1",
        "0",
        "-0",
        "-3",
        "1e400",
        "1e-400",
        "NaN",
        "Infinity",
        "-Infinity",
        "1,5",
        "1.5",
        "1_000",
        "0x10",
    ),
    *(
        "٣",
        "２",
        "²",
        "½",
        "①",
        "9" * 19,
        "9" * 400,
        "9" * 5_000,
        str(2**31),
        str(2**63),
        str(2**63 - 1),
        "+1",
    ),
    *("0." + "0" * 300 + "1", "1.", ".5", "1 2", "99999999", "1e5", "24.01"),
]
ODD_DAYS = [
    *(
        "2026-02-30",
        "0001-01-01",
        "9999-12-31",
        "2026-13-01",
        "10000-01-01",
        "0000-00-00",
        "2026-W48",
        "2026-W54",
    ),
    *("2026-03-29T01:30", "2026-10-25T01:30+00:00", "0001-01-01T00:00:00+14:00", "9999-12-31T23:59:59-14:00"),
    *(
        "25.11.2026",
        "tomorrow",
        "1970-01-01T00:00:00Z",
        "2026-11-25T99:00",
        "２０２６-11-25",
        "Etc/../x",
        "Moon/Crater",
    ),
]
ODD_HEADERS = [
    {},
    {},
    {"HX-Request": "true"},
    {"HX-Request": "true", "HX-Target": "work", "HX-Current-URL": "http://testserver/floor/"},
    {"HX-Request": "true", "HX-Target": "\x01<b>", "HX-Current-URL": "http://[", "Referer": "http://["},
    {
        "HX-Request": "true",
        "HX-Boosted": "true",
        "HX-Current-URL": "%E0%A4%A",
        "HX-Current-URL-URI-AutoEncoded": "true",
    },
    {"Accept": "application/json"},
    {"Accept": "image/*;q=x,,;", "Referer": "http://[", "Accept-Encoding": "gzip;q=nan"},
    {
        "Origin": "http://[",
        "Cookie": "sessionid=\x7f%00; tablet=ü; csrftoken==",
        "If-Modified-Since": "never",
    },
    {"Range": "bytes=9-1,-", "If-None-Match": '"' * 50, "Last-Event-ID": "9" * 500},
]
ODD_BODIES = [
    ("application/x-www-form-urlencoded", b"name=%ED%A0%80&%=%zz&key=%00&=&&;" + b"\xff\xfe"),
    ("application/x-www-form-urlencoded; charset=utf-7", b"name=+ADw-script"),
    ("application/x-www-form-urlencoded; charset=no-such", b"name=x"),
    ("application/x-www-form-urlencoded", b"&".join(b"f%d=1" % n for n in range(1_001))),
    ("application/x-www-form-urlencoded", b"note=" + b"n" * 2_100_000),
    ("multipart/form-data", b"no boundary"),
    (
        "multipart/form-data; boundary=b",
        b"--b\r\nContent-Disposition: form-data; name=x; filename=\r\n\r\ncut o",
    ),
    ("multipart/form-data; boundary=" + "b" * 300, b"--b"),
    ("application/json", b'{"name": [1, {"a": null}]'),
    ("text/plain; boundary=\x01", b"\0" * 100),
]
ODD_FILES = [
    ("a.jpg.php", b"<?php"),
    ("../../x.png", b"\x89PNG\r\n\x1a\n" + b"\0" * 40),
    ("n" * 300 + ".jpg", b"\xff\xd8\xff\xe0cut"),
    ("CON", b""),
    ("list.csv", 'number;kind\n"never closed'.encode("utf-16")),
    (
        "list.csv",
        b"\xef\xbb\xbfnumber,kind,number\n301,grand,302\n\xff\xfe,\0,\n=1,<b>,99999999999999999999\n",
    ),
    ("list.xlsx", b"PK\x03\x04" + b"\0" * 60),
    ("r\u202egpj.exe", b"%PDF-1.4"),
]


class _Shown(HTMLParser):
    """Every form of a page: its address and, for each field, the values that a browser could send."""

    def __init__(self) -> None:
        super().__init__()
        self.forms: list[tuple[str, Fields]] = []
        self.links: list[str] = []
        self._select = ""

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        given = {name: value or "" for name, value in attrs}
        self.links += [given[name] for name in ("href", "hx-get") if given.get(name)]
        if tag == "form":
            self.forms.append((given.get("action", ""), defaultdict(list)))
        elif not self.forms:
            return
        elif tag in {"input", "textarea", "button", "select"} and given.get("name"):
            self._select = given["name"]
            usual = "\0file" if given.get("type") == "file" else given.get("value", "")
            self.forms[-1][1][self._select] += [] if tag == "select" else [usual]
        elif tag == "option" and self._select:
            self.forms[-1][1][self._select].append(given.get("value", ""))


def page_of(url: str) -> str:
    """The name of the page at this address; empty where none is."""
    try:
        return resolve(urlsplit(url).path).view_name
    except Resolver404:
        return ""


class OddVisitor:
    """Knows the shop's forms, and fills them in wrongly."""

    def __init__(self, world: World) -> None:
        self.world = world
        self.browsers = {viewer: world.browser(viewer) for viewer in dict.fromkeys(VIEWERS)}
        self.fields: dict[str, Fields] = defaultdict(dict)
        self.questions: dict[str, Fields] = defaultdict(dict)

    def look_around(self, asked: list[Address]) -> None:
        """Open every page once and note its forms and what its links ask."""
        for address in asked:
            url = address.url(self.world)
            for viewer in ("owner", "hand"):
                with taken_back():
                    answer = self.browsers[viewer].get(url)
                if answer.status_code == 200 and not answer.streaming:
                    self._note(url, answer.content.decode(errors="replace"))
            if address.page in FORMS:
                typed = FORMS[address.page](self.world)
                self.fields[address.page] |= {name: [str(value)] for name, value in typed.items()}

    def _note(self, url: str, html: str) -> None:
        shown = _Shown()
        shown.feed(html)
        for action, fields in shown.forms:
            self.fields[page_of(action or url)] |= fields
        for link in shown.links:
            for name, value in parse_qsl(urlsplit(link).query):
                self.questions[page_of(urlsplit(link).path or url)].setdefault(name, []).append(value)

    def send(self, address: Address, dice: random.Random) -> HttpResponse:
        browser, url = self.browsers[dice.choice(VIEWERS)], address.url(self.world)
        headers = dict(dice.choice(ODD_HEADERS))
        if dice.random() < 0.3:
            return browser.get(url, self._question(address, dice), headers=headers)
        if dice.random() < 0.15:
            kind, body = dice.choice(ODD_BODIES)
            return browser.generic("POST", url, body, content_type=kind, headers=headers)
        answer = browser.post(url, self.odd_form(address, dice), headers=headers)
        if answer.status_code in (302, 303):
            # What was taken has to be shown, too.
            answer = browser.get(answer.headers["Location"])
        return answer

    def _question(self, address: Address, dice: random.Random) -> dict[str, Any]:
        usual = (
            self.questions[address.page]
            | self.fields[address.page]
            | {"page": ["1"], "q": [""], "next": ["/"]}
        )
        return {
            name: odd(values, dice, share=0.6) for name, values in usual.items() if "\0file" not in values
        }

    def usual_form(self, address: Address) -> dict[str, Any]:
        """The form as its page shows it, the first choice chosen where there is one."""
        usual = self.fields[address.page]
        return {name: values[0] for name, values in usual.items() if values and "\0file" not in values}

    def odd_form(self, address: Address, dice: random.Random) -> dict[str, Any]:
        """Either one wrong field in a form that is right, or many."""
        usual = self.fields[address.page]
        share = dice.choice([0.0, 0.1, 0.3, 0.8])
        wrong = dice.choice(sorted(usual)) if usual else ""
        typed: dict[str, Any] = {}
        for name, values in usual.items():
            if "\0file" in values:
                typed[name] = SimpleUploadedFile("x", dice.choice(ODD_FILES)[1])
                typed[name]._name = dice.choice(ODD_FILES)[0]
            elif dice.random() > 0.05:
                typed[name] = odd(values, dice, share=1.0 if name == wrong else share)
        return typed


def odd(usual: list[str], dice: random.Random, *, share: float) -> Any:
    """Something nobody should type; with the rest of the odds, something usual."""
    if dice.random() >= share:
        return dice.choice(usual or [""])
    kind = dice.choice([ODD_TEXTS, ODD_NUMBERS, ODD_DAYS])
    value = dice.choice(kind).encode("utf-8", "replace").decode()
    return [value, dice.choice(ODD_TEXTS[:6]).encode("utf-8", "replace")] if dice.random() < 0.1 else value


class taken_back:
    """Whatever a request did is undone, so that each meets the same shop."""

    def __enter__(self) -> None:
        self._atomic = transaction.atomic()
        self._atomic.__enter__()

    def __exit__(self, *failed: Any) -> None:
        transaction.set_rollback(True)
        self._atomic.__exit__(*failed)


def faults_of(visitor: OddVisitor, address: Address, inputs: int = INPUTS) -> Iterator[str]:
    """Send so many odd things to one address; each fault in one line."""
    for number in range(inputs):
        dice = random.Random(f"{address.page} {number}")
        try:
            with taken_back():
                answer = visitor.send(address, dice)
            if answer.status_code >= 500:
                yield f"{address.page}, input {number}: {answer.status_code}"
        except Exception as fault:  # the browser of the tests hands on what the shop did not catch
            yield f"{address.page}, input {number}: {type(fault).__name__}: {str(fault)[:200]}"


def breaks(request: Any) -> HttpResponse:
    return HttpResponse(int(request.GET.get("page", "1")))


class NoInputBreaksAPageTests(TestCase):
    @classmethod
    def setUpTestData(cls):
        cls.world = World()

    def setUp(self):
        logging.disable(logging.CRITICAL)
        self.addCleanup(logging.disable, logging.NOTSET)
        self.visitor = OddVisitor(self.world)

    def test_every_address_answers_odd_input_in_good_order(self):
        asked = list(addresses())
        self.visitor.look_around(asked)
        assert len(self.visitor.fields) > 50, "forms were not found: nothing odd would be typed into them"
        faults = [fault for address in asked for fault in faults_of(self.visitor, address)]
        assert not faults, "\n".join(faults)

    def test_a_page_that_trusts_its_input_is_caught(self):
        planted = type("urls", (), {"urlpatterns": [path("planted/", breaks, name="planted")]})
        with override_settings(ROOT_URLCONF=planted):
            assert list(faults_of(self.visitor, Address("planted", {}), 30))
