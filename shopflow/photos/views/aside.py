"""Photos put aside and brought back, and all of an instrument's on paper."""

from __future__ import annotations

import uuid

from django.contrib import messages
from django.http import HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.views.decorators.http import require_POST, require_safe

from shopflow.instruments.selectors import instrument_or_404
from shopflow.people.access import Deed
from shopflow.people.door import me, only

from .. import services
from ..forms.marks import AsideForm
from ..models import Photo

PER_PAGE = 12


def _photo(key: uuid.UUID) -> Photo:
    return get_object_or_404(Photo.objects.select_related("instrument", "added_by"), key=key)


@only(Deed.PHOTO)
@require_POST
def put_aside(request: HttpRequest, key: uuid.UUID) -> HttpResponse:
    photo, form = _photo(key), AsideForm(request.POST)
    if not form.is_valid():
        return render(request, "photos/put_aside.html", {"photo": photo, "form": form}, status=422)
    services.put_aside(photo=photo, by=me(request), reason=form.cleaned_data["reason"])
    messages.success(request, "The photo is put aside; it stays on record.")
    return redirect("photos:photo", key)


@only(Deed.PHOTO)
@require_POST
def bring_back(request: HttpRequest, key: uuid.UUID) -> HttpResponse:
    services.bring_back(photo=_photo(key), by=me(request))
    messages.success(request, "The photo is shown again.")
    return redirect("photos:photo", key)


@only(Deed.SEE_SHOP)
@require_safe
def contact_sheet(request: HttpRequest, number: str) -> HttpResponse:
    """All photos of an instrument to print, twelve to a page."""
    instrument = instrument_or_404(number)
    photos = list(Photo.objects.ready().filter(instrument=instrument).select_related("added_by"))
    pages = [photos[at : at + PER_PAGE] for at in range(0, len(photos), PER_PAGE)]
    context = {"instrument": instrument, "pages": pages, "count": len(photos)}
    return render(request, "photos/contact_sheet.html", context)
