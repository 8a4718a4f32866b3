"""The strip of links at the head of everything that belongs to one instrument."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

from django import template
from django.urls import NoReverseMatch, reverse

from shopflow.instruments.models import Instrument
from shopflow.people import access
from shopflow.people.access import Deed

register = template.Library()

LINKS = [
    ("Where it stands", "workshop:instrument", Deed.SEE_SHOP),
    ("Survey", "instruments:survey", Deed.SURVEY),
    ("Scope", "offers:scope", Deed.OFFERS),
    ("Offers", "offers:offers", Deed.OFFERS),
    ("Changes", "offers:changes", Deed.OFFERS),
    ("Crates", "instruments:crates", Deed.CRATES),
    ("Parts", "photos:parts", Deed.CRATES),
    ("Readings", "readings:of-instrument", Deed.READINGS),
    ("Strings", "readings:scales", Deed.SEE_SHOP),
    ("Bearing", "readings:bearing", Deed.SEE_SHOP),
    ("Keys", "readings:touch", Deed.SEE_SHOP),
    ("Photos", "workshop:photos", Deed.SEE_SHOP),
    ("Left as found", "offers:left", Deed.HAND_OVER),
    ("Handover", "offers:handover", Deed.HAND_OVER),
    ("Private links", "offers:links", Deed.OFFERS),
]


@dataclass(frozen=True, slots=True)
class Link:
    label: str
    url: str
    here: bool


@register.inclusion_tag("instruments/_links.html", takes_context=True)
def instrument_links(context: dict[str, Any], instrument: Instrument) -> dict[str, Any]:
    """{% instrument_links instrument %}: what there is of it, as far as the person here may go."""
    request = context["request"]
    allowed = [(label, page) for label, page, deed in LINKS if access.may(request.user, deed)]
    there = [(label, url) for label, page in allowed if (url := _address(page, instrument))]
    here = max((url for _, url in there if request.path.startswith(url)), key=len, default="")
    return {"links": [Link(label, url, url == here) for label, url in there], "number": instrument.number}


def _address(page: str, instrument: Instrument) -> str:
    """Empty where the house has no such room."""
    try:
        return reverse(page, args=[instrument.number])
    except NoReverseMatch:
        return ""
