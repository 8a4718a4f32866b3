"""The strip of links at the head of everything that belongs to one instrument."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from typing import Any

from django import template
from django.urls import NoReverseMatch, reverse

from shopflow.instruments.models import Instrument
from shopflow.people import access
from shopflow.people.access import Deed

register = template.Library()


@dataclass(frozen=True, slots=True)
class Room:
    """A page of every instrument, and the pages that belong to it."""

    label: str
    page: str
    deed: Deed
    within: tuple[Room, ...] = ()


ROOMS = [
    Room("Where it stands", "workshop:instrument", Deed.SEE_SHOP),
    Room("Survey", "instruments:survey", Deed.SURVEY),
    Room("Scope", "offers:scope", Deed.OFFERS),
    Room("Offers", "offers:offers", Deed.OFFERS, (Room("Private links", "offers:links", Deed.OFFERS),)),
    Room("Changes", "offers:changes", Deed.OFFERS),
    Room(
        "Crates",
        "instruments:crates",
        Deed.CRATES,
        (
            Room("Parts on photos", "photos:parts", Deed.CRATES),
            Room("Tags", "instruments:tags", Deed.CRATES),
        ),
    ),
    Room(
        "Readings",
        "readings:of-instrument",
        Deed.READINGS,
        (
            Room("Strings", "readings:scales", Deed.SEE_SHOP),
            Room("Bearing", "readings:bearing", Deed.SEE_SHOP),
            Room("Keys", "readings:touch", Deed.SEE_SHOP),
        ),
    ),
    Room("Photos", "workshop:photos", Deed.SEE_SHOP),
    Room("Left as found", "offers:left", Deed.HAND_OVER),
    Room("Handover", "offers:handover", Deed.HAND_OVER),
]


@dataclass(frozen=True, slots=True)
class Link:
    label: str
    url: str
    here: bool = False
    within: tuple[Link, ...] = ()

    @property
    def leads_here(self) -> bool:
        return self.here or any(link.here for link in self.within)


@register.inclusion_tag("instruments/_links.html", takes_context=True)
def instrument_links(context: dict[str, Any], instrument: Instrument) -> dict[str, Any]:
    """{% instrument_links instrument %}: what there is of it, as far as the person here may go.

    What belongs to a room is shown only there: a strip of fifteen names is no help.
    """
    request = context["request"]
    links = _links(ROOMS, request.user, instrument)
    every = [link for top in links for link in (top, *top.within)]
    here = max((link.url for link in every if request.path.startswith(link.url)), key=len, default="")
    marked = [_marked(link, here) for link in links]
    return {
        "links": marked,
        "inner": next((link for link in marked if link.leads_here and link.within), None),
        "number": instrument.number,
    }


def _links(rooms: Sequence[Room], person: Any, instrument: Instrument) -> list[Link]:
    allowed = [room for room in rooms if access.may(person, room.deed)]
    return [
        Link(room.label, url, within=tuple(_links(room.within, person, instrument)))
        for room in allowed
        if (url := _address(room.page, instrument))
    ]


def _marked(link: Link, here: str) -> Link:
    within = tuple(_marked(inner, here) for inner in link.within)
    return replace(link, here=link.url == here, within=within)


def _address(page: str, instrument: Instrument) -> str:
    """Empty where the house has no such room."""
    try:
        return reverse(page, args=[instrument.number])
    except NoReverseMatch:
        return ""
