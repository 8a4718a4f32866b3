"""The air of the rooms: its log, its picture, and one more line."""

from __future__ import annotations

from django.http import HttpRequest, HttpResponse
from django.shortcuts import render
from django.urls import reverse
from django.views.decorators.http import require_safe

from shopflow.catalogue.selectors import the_shop
from shopflow.people.access import Deed
from shopflow.people.door import only
from shopflow.people.models import Person
from shopflow.people.taps import TapIn
from shopflow.readings.forms.sheet import AirForm
from shopflow.readings.selectors.air import log_of_air
from shopflow.readings.services.air import note_air
from shopflow.workshop.services.taps import Answer

from .answers import answer_tap, by_hand


@only(Deed.SEE_SHOP)
@require_safe
def air(request: HttpRequest) -> HttpResponse:
    return _page(request, None)


@by_hand
def note(request: HttpRequest, by: Person) -> HttpResponse:
    """One more line in the log."""
    form = AirForm(request.POST, units=the_shop().units)

    def deed(tap: TapIn) -> Answer:
        said = form.cleaned_data
        return note_air(
            room=said["room"],
            temperature=said["temp_c"],
            humidity=said["rh_percent"],
            by=by,
            tap=tap,
        )

    def again(status: int, words: str) -> HttpResponse:
        return _page(request, form, status=status, refusal=words)

    return answer_tap(request, by, back=reverse("readings:air"), form=form, deed=deed, again=again)


def _page(
    request: HttpRequest, form: AirForm | None, *, status: int = 200, refusal: str = ""
) -> HttpResponse:
    units = the_shop().units
    log = log_of_air(units=units)
    form = form or AirForm(units=units, initial={"room": log.rooms[0].name if log.rooms else ""})
    context = {"log": log, "form": form, "refusal": refusal}
    return render(request, "readings/air.html", context, status=status)
