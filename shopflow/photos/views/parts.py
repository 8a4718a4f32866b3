"""The parts of an instrument as they lie on its photos: a hole shows what is missing."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

from django.forms import Form
from django.http import HttpRequest, HttpResponse
from django.shortcuts import render
from django.urls import reverse
from django.views.decorators.http import require_POST, require_safe

from shopflow.common.htmx import wants_fragment
from shopflow.instruments.forms.crates import CountForm
from shopflow.instruments.models import CrateLine, Instrument
from shopflow.instruments.selectors import instrument_or_404
from shopflow.instruments.selectors.crates import known_outside
from shopflow.instruments.views.answers import Tapped, answer_tap
from shopflow.people import access
from shopflow.people.access import Deed
from shopflow.people.door import me, only

from .. import services
from ..forms.marks import PartsInForm, PartsOutForm
from ..models import Photo
from ..selectors import parts


@only(Deed.SEE_SHOP)
@require_safe
def parts_of(request: HttpRequest, number: str) -> HttpResponse:
    """All parts of an instrument as they lie on its photos: a hole shows what is missing."""
    return _parts_page(request, instrument_or_404(number))


@require_POST
def parts_out(request: HttpRequest, number: str) -> HttpResponse:
    return _count(request, number, PartsOutForm, services.count_out, "out", lambda it: {"to": it["to"]})


@require_POST
def parts_in(request: HttpRequest, number: str) -> HttpResponse:
    return _count(
        request,
        number,
        PartsInForm,
        services.count_in,
        "back",
        lambda it: {"rest_follows": it["rest_follows"]},
    )


def _count(
    request: HttpRequest,
    number: str,
    form_class: type[Any],
    deed: Callable[..., str],
    slot: str,
    more: Callable[[Tapped], dict[str, Any]],
) -> HttpResponse:
    def sent() -> list[CrateLine]:
        lines = parts.parts_of(instrument_or_404(number)).lines
        return [line for line in lines if f"line-{line.pk}" in request.POST]

    def done(it: Tapped) -> str:
        return deed(lines=sent(), counts=it.form.counts, by=it.by, tap=it.tap, **it.form.names, **more(it))

    return answer_tap(
        request,
        form=lambda data, by: form_class(data, by=by, lines=sent(), auto_id=f"{slot}_%s"),
        deed=done,
        again=lambda *, status, refusal, form: _parts_page(
            request, instrument_or_404(number), status=status, refusal=refusal, **{slot: form}
        ),
        on=lambda: reverse("photos:parts", args=[number]),
    )


def _parts_page(
    request: HttpRequest,
    instrument: Instrument,
    *,
    status: int = 200,
    refusal: str = "",
    **typed: CountForm | Form | None,
) -> HttpResponse:
    laid = parts.parts_of(instrument)
    here = {f"line-{line.pk}": line.here for line in laid.to_go_out} | {"seen": 0}
    by = me(request)
    context = {
        "instrument": instrument,
        "laid": laid,
        "forms": {
            "out": PartsOutForm(by=by, lines=laid.to_go_out, initial=here, auto_id="out_%s"),
            "back": PartsInForm(by=by, lines=laid.to_come_in, initial={"seen": 0}, auto_id="back_%s"),
        }
        | {slot: form for slot, form in typed.items() if form},
        "photos": Photo.objects.ready().filter(instrument=instrument).order_by("-added_at")[:24],
        "outside": known_outside(),
        "refusal": refusal,
        "may_act": access.may(request.user, Deed.CRATES),
        "may_snag": access.may(request.user, Deed.SNAG),
    }
    page = "_parts" if wants_fragment(request) else "parts"
    return render(request, f"photos/{page}.html", context, status=status)
