"""What the piano says of its job, and what somebody takes over of it, one thing after the other."""

from __future__ import annotations

from collections.abc import Callable

from django.contrib import messages
from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.views.decorators.http import require_POST, require_safe

from shopflow.common.refusals import Refused
from shopflow.instruments.models import Instrument
from shopflow.instruments.selectors import instrument_or_404
from shopflow.people import access
from shopflow.people.access import Deed
from shopflow.people.door import me, only
from shopflow.workshop.forms.layout import MissingTieForm, MissingWorkForm
from shopflow.workshop.selectors.piano_says import PianoSays, piano_says
from shopflow.workshop.services import layout


@only(Deed.SEE_SHOP)
@require_safe
def state(request: HttpRequest, number: str) -> HttpResponse:
    return _page(request, instrument_or_404(number))


@only(Deed.INSTRUMENTS)
@require_POST
def add(request: HttpRequest, number: str) -> HttpResponse:
    """Take over one piece of missing work, if it is missing still."""
    instrument = instrument_or_404(number)
    form = MissingWorkForm(request.POST)

    def deed(says: PianoSays) -> str:
        wanted = form.cleaned_data["operation"]
        missing = next((one for one in says.missing if one.operation.pk == wanted), None)
        if missing is None:
            raise Refused("This is not missing any more.")
        why = "; ".join(missing.why[:3])
        layout.add_alone(instrument=instrument, operation=missing.operation, by=me(request), why=why)
        return f"“{missing.operation.name}” is in the job now."

    return _deed(request, instrument, deed, is_valid=form.is_valid())


@only(Deed.INSTRUMENTS)
@require_POST
def tie(request: HttpRequest, number: str) -> HttpResponse:
    """Take over one missing tie, if it is missing still."""
    instrument = instrument_or_404(number)
    form = MissingTieForm(request.POST)

    def deed(says: PianoSays) -> str:
        pair = (form.cleaned_data["earlier"], form.cleaned_data["later"])
        wanted = next((one for one in says.untied if one.pair == pair), None)
        if wanted is None:
            raise Refused("This tie is not missing any more.")
        layout.tie(task=wanted.later, needs=wanted.earlier, by=me(request), reason=wanted.reason)
        return f"“{wanted.later.name}” waits for “{wanted.earlier.name}” now."

    return _deed(request, instrument, deed, is_valid=form.is_valid())


def _deed(
    request: HttpRequest, instrument: Instrument, deed: Callable[[PianoSays], str], *, is_valid: bool
) -> HttpResponse:
    if not is_valid:
        return _page(request, instrument, status=422, refused="Choose one of the things on this page.")
    try:
        words = deed(piano_says(instrument))
    except Refused as refused:
        return _page(request, instrument, status=422, refused=refused.message)
    messages.success(request, words)
    return redirect("workshop:state", instrument.number)


def _page(
    request: HttpRequest, instrument: Instrument, *, status: int = 200, refused: str = ""
) -> HttpResponse:
    context = {
        "instrument": instrument,
        "says": piano_says(instrument),
        "may_change": access.may(request.user, Deed.INSTRUMENTS),
        "refused": refused,
    }
    return render(request, "workshop/state.html", context, status=status)
