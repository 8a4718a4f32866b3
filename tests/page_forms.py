"""Fill in a page's form as a browser does: send everything it shows, with some fields typed over."""

from __future__ import annotations

from html.parser import HTMLParser
from typing import Any

from django.http import HttpResponse
from django.test import Client

Fields = dict[str, list[str]]


class _Forms(HTMLParser):
    def __init__(self) -> None:
        super().__init__()
        self.forms: list[tuple[str, Fields]] = []
        self._area = self._select = ""
        self._chosen: list[str] = []
        self._first: str | None = None
        self._many = False

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        given = {name: value or "" for name, value in attrs}
        if tag == "form":
            self.forms.append((given.get("action", ""), {}))
        elif tag == "input" and given.get("name"):
            self._input(given)
        elif tag == "textarea":
            self._area = given.get("name", "")
            self._put(self._area, "")
        elif tag == "select":
            self._select, self._chosen, self._first = given.get("name", ""), [], None
            self._many = "multiple" in given
        elif tag == "option" and self._select:
            self._first = given.get("value", "") if self._first is None else self._first
            self._chosen += [given.get("value", "")] if "selected" in given else []

    def handle_endtag(self, tag: str) -> None:
        if tag == "textarea":
            # A browser drops the line break that the template puts after the opening tag.
            values = self.forms[-1][1][self._area]
            values[-1] = values[-1].removeprefix("\n")
            self._area = ""
        elif tag == "select" and self._select:
            for value in self._chosen or ([] if self._many else [self._first or ""]):
                self._put(self._select, value)
            self._select = ""

    def handle_data(self, data: str) -> None:
        if self._area:
            self.forms[-1][1][self._area][-1] += data

    def _input(self, given: dict[str, str]) -> None:
        if given.get("type") in {"checkbox", "radio"} and "checked" not in given:
            return
        if given.get("type") not in {"submit", "search"}:
            self._put(given["name"], given.get("value", "on" if given.get("type") == "checkbox" else ""))

    def _put(self, name: str, value: str) -> None:
        if self.forms:
            self.forms[-1][1].setdefault(name, []).append(value)


def form_with(html: str, field: str) -> tuple[str, Fields]:
    """Address and fields of the page's form that has this field."""
    reader = _Forms()
    reader.feed(html)
    return next(form for form in reader.forms if field in form[1])


def fill(client: Client, url: str, typed: dict[str, Any], *, has: str = "") -> HttpResponse:
    """Open a page, type these over what its form shows, and send it."""
    page = client.get(url)
    assert page.status_code == 200, page.status_code
    action, fields = form_with(page.content.decode(), has or next(iter(typed)))
    return client.post(action or url, fields | typed)
