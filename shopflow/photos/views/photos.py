"""Photos as they are shown: one with its words, and the shop's own copies of it."""

from __future__ import annotations

import uuid
from typing import Any

from django.contrib import messages
from django.http import Http404, HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.views.decorators.http import require_http_methods, require_POST, require_safe

from shopflow.people import access
from shopflow.people.access import Deed
from shopflow.people.door import me, only
from shopflow.people.edits import ChangedMeanwhile

from .. import files, services
from ..forms import PhotoForm
from ..models import Photo
from ..selectors.parts import marked


@only(Deed.SEE_SHOP)
@require_safe
def copy(request: HttpRequest, key: uuid.UUID, side: int) -> HttpResponse:
    """One of the shop's own copies, left in no browser: the next person at a tablet may be another.

    Read whole, since it is small; sent plain, since JPEG does not get smaller by packing it again.
    """
    photo = get_object_or_404(Photo.objects.select_related("instrument"), key=key, state=Photo.State.READY)
    if side not in files.SIDES:
        raise Http404("There is no copy of this size.")
    if photo.hidden_at is not None and not services.may_change(photo, me(request)):
        raise Http404("This photo is put aside.")
    try:
        content = files.copy(key, side).read_bytes()
    except FileNotFoundError:
        raise Http404("This copy is not on this machine.") from None
    name = f"{photo.instrument.number}-{photo.pk}-{side}.jpg"
    return HttpResponse(
        content,
        content_type="image/jpeg",
        headers={
            "Content-Disposition": f'inline; filename="{name}"',
            "Content-Encoding": "identity",
            "Content-Security-Policy": "default-src 'none'; sandbox; frame-ancestors 'none'",
            "Cache-Control": "private, no-store",
        },
    )


@only(Deed.SEE_SHOP)
@require_http_methods(["GET", "HEAD", "POST"])
def photo(request: HttpRequest, key: uuid.UUID) -> HttpResponse:
    shown = get_object_or_404(Photo.objects.select_related("instrument", "added_by", "hidden_by"), key=key)
    if request.method != "POST":
        return _page(request, shown, PhotoForm.showing(shown))
    form = PhotoForm(request.POST)
    if not form.is_valid():
        return _page(request, shown, form, status=422)
    try:
        services.change_photo(photo=shown, by=me(request), **form.cleaned_data)
    except ChangedMeanwhile as clash:
        shown.refresh_from_db()
        return _page(request, shown, form.overtaken_by(shown), status=409, clash=clash)
    messages.success(request, "The photo is changed.")
    return redirect("photos:photo", shown.key)


@only(Deed.SEE_CUSTOMER)
@require_POST
def for_customer(request: HttpRequest, key: uuid.UUID) -> HttpResponse:
    """Choose it for the customer's page, or take it from there."""
    shown = get_object_or_404(Photo, key=key)
    chosen = request.POST.get("chosen") == "yes"
    services.choose_for_customer(photo=shown, chosen=chosen, by=me(request))
    messages.success(
        request, "Its owner sees this photo now." if chosen else "Its owner no longer sees this photo."
    )
    return redirect("photos:photo", shown.key)


def _page(
    request: HttpRequest, shown: Photo, form: PhotoForm, *, status: int = 200, **more: Any
) -> HttpResponse:
    may_change = services.may_change(shown, me(request))
    context = {"photo": shown, "form": form, "may_change": may_change, "shown": marked(shown), **more}
    context["may_choose"] = access.may(request.user, Deed.SEE_CUSTOMER)
    return render(request, "photos/photo.html", context, status=status)
