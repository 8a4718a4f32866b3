"""All sheets of one instrument, to read and to print."""

from __future__ import annotations

from django.http import HttpRequest, HttpResponse
from django.shortcuts import render
from django.views.decorators.http import require_safe

from shopflow.people.access import Deed
from shopflow.people.door import only
from shopflow.readings.selectors.of_instrument import sheets_of_instrument
from shopflow.readings.selectors.pairs import before_after
from shopflow.workshop.selectors.instrument import instrument_or_404


@only(Deed.SEE_SHOP)
@require_safe
def of_instrument(request: HttpRequest, number: str) -> HttpResponse:
    instrument = instrument_or_404(number)
    context = {
        "instrument": instrument,
        "tasks": sheets_of_instrument(instrument),
        "pairs": before_after(instrument),
    }
    return render(request, "readings/of_instrument.html", context)
