"""What every page shows: the person who is here, and where this person may go."""

from __future__ import annotations

from typing import Any

from django.http import HttpRequest
from django.urls import NoReverseMatch, reverse

from . import access, next_page
from .access import Deed
from .tablets import tablet_here

# Name, address, who may go there, and where else one is still in the same room.
_PLACES: list[tuple[str, str, Deed, tuple[str, ...]]] = [
    ("Floor", "workshop:floor", Deed.SEE_SHOP, ("/instruments/", "/take-in/")),
    ("Bench", "workshop:benches", Deed.SEE_SHOP, ("/tasks/", "/air/")),
    ("Crates", "instruments:find-crate", Deed.SEE_SHOP, ()),
    ("Load", "planning:load", Deed.PLAN, ()),
    ("Promises", "planning:promises", Deed.PLAN, ("/plan/",)),
    ("Offers", "offers:waiting", Deed.OFFERS, ()),
    ("Year", "reports:year", Deed.REPORTS, ("/reports/",)),
    ("Records", "reports:records", Deed.SEE_SHOP, ("/exports/",)),
    ("Set-up", "catalogue:set-up", Deed.SET_UP, ()),
]


def house(request: HttpRequest) -> dict[str, Any]:
    person = getattr(request, "user", None)
    tablet = tablet_here(request)
    return {
        "nav": _nav(request, person),
        "tablet": tablet,
        "tablet_mm": tablet.pixels_per_mm if tablet else None,
        "switch_url": _switch(request) if tablet else "",
        "sign_out_url": reverse("people:sign-out"),
        "own_page_url": reverse("people:me"),
    }


def _switch(request: HttpRequest) -> str:
    """On a shared tablet the next person takes over and comes back to this page."""
    return next_page.with_next(reverse("people:switch"), next_page.this_page(request))


def _nav(request: HttpRequest, person: object) -> list[tuple[str, str, bool]]:
    places = [
        (label, _address(name), also) for label, name, deed, also in _PLACES if access.may(person, deed)
    ]
    return [(label, url, request.path.startswith((url, *also))) for label, url, also in places if url]


def _address(name: str) -> str:
    try:
        return reverse(name)
    except NoReverseMatch:
        return ""
