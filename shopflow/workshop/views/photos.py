"""Photos of an instrument and of a task: look at them, send more."""

from __future__ import annotations

import uuid
from collections.abc import Callable
from typing import Any

from django.contrib import messages
from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.urls import reverse
from django.views.decorators.http import require_http_methods
from django_htmx.http import trigger_client_event

from shopflow.common.htmx import wants_fragment, wants_json
from shopflow.instruments.selectors import instrument_or_404
from shopflow.people.access import Deed
from shopflow.people.door import me, only
from shopflow.photos.forms import SendForm
from shopflow.photos.models import Photo
from shopflow.photos.services import add_photo
from shopflow.photos.views.sending import NONE_CHOSEN, Keep, answer_outbox, take
from shopflow.workshop.selectors.gallery import gallery_at, gallery_of
from shopflow.workshop.selectors.open_task import task_or_404
from shopflow.workshop.services.photos import photograph_task


@only(Deed.SEE_SHOP)
@require_http_methods(["GET", "HEAD", "POST"])
def of_instrument(request: HttpRequest, number: str) -> HttpResponse:
    instrument = instrument_or_404(number)
    facts = {"instrument": instrument, "here": reverse("workshop:photos", args=[instrument.number])}

    def keep(**sent: Any) -> Photo:
        return add_photo(instrument=instrument, **sent)

    return _answer(request, facts, lambda: gallery_of(instrument), keep)


@only(Deed.SEE_SHOP)
@require_http_methods(["GET", "HEAD", "POST"])
def of_task(request: HttpRequest, pk: int) -> HttpResponse:
    task = task_or_404(pk)
    here = reverse("workshop:task-photos", args=[task.pk])
    facts = {"instrument": task.instrument, "task": task, "here": here}

    def keep(**sent: Any) -> Photo:
        return photograph_task(task=task, **sent)

    return _answer(request, facts, lambda: gallery_at(task), keep)


def _answer(request: HttpRequest, facts: dict[str, Any], look: Callable[[], Any], keep: Keep) -> HttpResponse:
    if request.method != "POST":
        return _page(request, facts | {"form": SendForm.fresh(), "gallery": look()}, "_photos")
    if wants_json(request):
        return answer_outbox(request, SendForm(request.POST), keep)
    form = SendForm(request.POST)
    files = request.FILES.getlist("photos")
    if not files:
        form.add_error(None, NONE_CHOSEN)
    if not form.is_valid():
        return _page(request, facts | {"form": form, "gallery": look()}, "_gallery", status=422)
    sent = take(files, form.cleaned_data | {"by": me(request)}, keep)
    if sent.refused:
        facts |= {"form": _typed_again(form), "gallery": look(), "sent": sent}
        return _page(request, facts, "_gallery", status=422)
    if wants_fragment(request):
        page = _page(request, facts | {"form": SendForm.fresh(), "gallery": look()}, "_gallery")
        return trigger_client_event(page, "say", {"value": sent.words})
    messages.success(request, sent.words)
    return redirect(facts["here"])


def _typed_again(form: SendForm) -> SendForm:
    return SendForm(initial=form.cleaned_data | {"batch": uuid.uuid4()})


def _page(request: HttpRequest, context: dict[str, Any], fragment: str, *, status: int = 200) -> HttpResponse:
    template = f"photos/{fragment}.html" if wants_fragment(request) else "photos/gallery.html"
    return render(request, template, context, status=status)
