"""An instrument by what stands on its tag."""

from __future__ import annotations

from django.http import Http404

from ..models import Instrument


def instrument_or_404(number: str) -> Instrument:
    """By its number, in small letters or capitals."""
    found = Instrument.objects.select_related("customer", "route").filter(number__iexact=number)
    for instrument in sorted(found, key=lambda one: one.number != number):
        return instrument
    raise Http404("There is no such instrument.")
