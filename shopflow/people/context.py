"""What every page shows: the person who is here, and where this person may go."""

from __future__ import annotations

from typing import Any

from django.http import HttpRequest
from django.urls import NoReverseMatch, reverse

from . import access
from .access import Deed

_PLACES: list[tuple[str, str, Deed]] = [
    ("Floor", "workshop:floor", Deed.SEE_SHOP),
    ("Bench", "workshop:benches", Deed.SEE_SHOP),
    ("Year", "reports:year", Deed.REPORTS),
    ("Records", "reports:records", Deed.SEE_SHOP),
    ("Set-up", "catalogue:set-up", Deed.SET_UP),
]


def house(request: HttpRequest) -> dict[str, Any]:
    person = getattr(request, "user", None)
    tablet = getattr(request, "tablet", None)
    return {"nav": _nav(request, person), "tablet": tablet}


def _nav(request: HttpRequest, person: object) -> list[tuple[str, str, bool]]:
    places = [(label, _address(name)) for label, name, deed in _PLACES if access.may(person, deed)]
    return [(label, url, request.path.startswith(url)) for label, url in places if url]


def _address(name: str) -> str:
    try:
        return reverse(name)
    except NoReverseMatch:
        return ""
