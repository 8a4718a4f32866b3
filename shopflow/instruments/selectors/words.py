"""Words about instruments that were written before."""

from __future__ import annotations

<<<<<<<< HEAD:shopflow/instruments/selectors/__init__.py
from django.http import Http404

from ..models import Instrument


def instrument_or_404(number: str) -> Instrument:
    """By its number, in small letters or capitals."""
    found = Instrument.objects.select_related("customer", "route").filter(number__iexact=number)
    for instrument in sorted(found, key=lambda one: one.number != number):
        return instrument
    raise Http404("There is no such instrument.")
========
from ..models import Instrument
>>>>>>>> 7657b30 (Lead from every page of an instrument to its others; tell what stands against it):shopflow/instruments/selectors/words.py


def known_words() -> dict[str, list[str]]:
    """Makers and places written before, to choose from instead of typing them a second way."""
    return {name: _written_before(field) for name, field in (("makers", "maker"), ("places", "place"))}


def _written_before(field: str) -> list[str]:
    words = Instrument.objects.exclude(**{field: ""}).order_by(field).values_list(field, flat=True)
    return list(words.distinct())
