"""Photos as they are shown: one with its words, and the shop's own copies of it."""

from __future__ import annotations

import uuid
from typing import Any

from django.contrib import messages
from django.http import Http404, HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.urls import reverse
from django.views.decorators.http import require_http_methods, require_POST, require_safe

from shopflow.common.htmx import wants_json
from shopflow.instruments.models import Finding
from shopflow.people import access
from shopflow.people.access import Deed
from shopflow.people.door import me, only
from shopflow.people.edits import ChangedMeanwhile

from . import files, services
from .forms import FindingPhotoForm, PhotoForm
from .models import Photo
from .parts import marked
from .sending import Keep, answer_outbox, take


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


@only(Deed.SURVEY)
@require_http_methods(["GET", "HEAD", "POST"])
def of_finding(request: HttpRequest, pk: int) -> HttpResponse:
    """Photos of one finding: taken beside the piano, then back to the survey."""
    found = Finding.objects.select_related("instrument", "group", "survey")
    finding = get_object_or_404(found, pk=pk)
    if request.method != "POST":
        return _finding_page(request, finding, FindingPhotoForm.fresh())
    if wants_json(request):
        return answer_outbox(request, FindingPhotoForm(request.POST), _keeper(finding))
    form, files_sent = FindingPhotoForm(request.POST), request.FILES.getlist("photos")
    if not files_sent:
        form.add_error(None, "Take a photo first, or choose one.")
    if not form.is_valid():
        return _finding_page(request, finding, form, status=422)
    sent = take(files_sent, form.cleaned_data | {"by": me(request)}, _keeper(finding))
    if sent.refused:
        again = FindingPhotoForm.fresh(caption=form.cleaned_data["caption"])
        return _finding_page(request, finding, again, status=422, refused=sent.refused)
    messages.success(request, sent.words)
    return redirect(_way_back(finding))


def _keeper(finding: Finding) -> Keep:
    def keep(*, caption: str, **sent: Any) -> Photo:
        return services.add_photo(
            instrument=finding.instrument,
            finding=finding,
            role=Photo.Role.FOUND,
            caption=caption or finding.name,
            **sent,
        )

    return keep


def _way_back(finding: Finding) -> str:
    """To the group where the finding stands, while its survey is open; else to the report."""
    if finding.survey.finished_at is not None:
        return reverse("instruments:survey-report", args=[finding.instrument.number])
    number, group = finding.instrument.number, finding.group.code
    return reverse("instruments:survey-group", args=[number, group]) + f"#finding-{finding.number}"


def _finding_page(
    request: HttpRequest, finding: Finding, form: FindingPhotoForm, *, status: int = 200, **more: Any
) -> HttpResponse:
    context = {
        "finding": finding,
        "instrument": finding.instrument,
        "form": form,
        "photos": Photo.objects.shown().filter(finding=finding),
        "back": _way_back(finding),
        "is_open": finding.survey.finished_at is None,
        **more,
    }
    return render(request, "photos/of_finding.html", context, status=status)
