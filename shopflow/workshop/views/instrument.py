"""The page of one instrument: where it stands, its work as a picture and a list, its story, its photos."""

from __future__ import annotations

from typing import Any

from django.http import HttpRequest, HttpResponse
from django.shortcuts import render
from django.views.decorators.http import require_safe

from shopflow.common import clock
from shopflow.common.htmx import only_when_changed, wants_fragment
from shopflow.instruments.models import Instrument
from shopflow.instruments.selectors import instrument_or_404
from shopflow.instruments.selectors.crates import crates_of, missing_of
from shopflow.people import access
from shopflow.people.access import Deed
from shopflow.people.door import only
from shopflow.workshop.forms.instrument import PromiseForm, ReturnForm
from shopflow.workshop.picture import picture_of
from shopflow.workshop.selectors.gallery import gallery_of
from shopflow.workshop.selectors.instrument import Work, work_of
from shopflow.workshop.selectors.story import latest
from shopflow.workshop.selectors.story import story as whole_story


@only(Deed.SEE_SHOP)
@require_safe
@only_when_changed
def instrument(request: HttpRequest, number: str) -> HttpResponse:
    """The whole page; a poll gets only where the instrument stands, and nothing when nothing has changed."""
    piano = instrument_or_404(number)
    standing = _standing(request, piano)
    if wants_fragment(request):
        return render(request, "workshop/_instrument_standing.html", standing)
    return render(
        request, "workshop/instrument.html", standing | _rest_of_the_page(request, piano, standing["work"])
    )


def _standing(request: HttpRequest, piano: Instrument) -> dict[str, Any]:
    return {
        "instrument": piano,
        "work": work_of(piano),
        "today": clock.today(),
        "sees_customer": access.may(request.user, Deed.SEE_CUSTOMER),
        "may_change": access.may(request.user, Deed.INSTRUMENTS),
        "pulse_mark": request.pulse_mark,  # type: ignore[attr-defined]
    }


def _rest_of_the_page(request: HttpRequest, piano: Instrument, work: Work) -> dict[str, Any]:
    gallery = gallery_of(piano)
    return {
        "picture": picture_of(work) if work.lines else None,
        "story": latest(piano),
        "photos": [*gallery.waiting, *gallery.photos[::-1]],
        "pairs": gallery.pairs[:1],
        "crates": [row for row in crates_of(piano) if row.crate.state != "emptied"],
        "missing": missing_of(piano),
        "may_snag": access.may(request.user, Deed.SNAG),
        "may_let_leave": access.may(request.user, Deed.LET_LEAVE),
        "promise_form": PromiseForm(
            initial={"promised_on": piano.promised_on, "version": piano.version}, auto_id="promise_%s"
        ),
        "return_form": ReturnForm(initial={"on": clock.today()}, auto_id="return_%s"),
    }


@only(Deed.SEE_SHOP)
@require_safe
def story(request: HttpRequest, number: str) -> HttpResponse:
    piano = instrument_or_404(number)
    page = whole_story(piano, page=request.GET.get("page", "1"))
    return render(request, "workshop/instrument_story.html", {"instrument": piano, "page": page})
