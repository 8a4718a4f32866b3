"""Photos of an instrument and of a task: look at them, send more."""

from __future__ import annotations

import uuid
from collections.abc import Callable, Sequence
from dataclasses import dataclass, field
from typing import Any

from django.contrib import messages
from django.core.files import File
from django.http import HttpRequest, HttpResponse, JsonResponse
from django.shortcuts import redirect, render
from django.urls import reverse
from django.views.decorators.http import require_http_methods
from django_htmx.http import trigger_client_event

from shopflow.common.htmx import wants_fragment, wants_json
from shopflow.common.refusals import Refused
from shopflow.instruments.selectors import instrument_or_404
from shopflow.people.access import Deed
from shopflow.people.door import me, only
from shopflow.people.envelope import BadEnvelope, read_envelope
from shopflow.people.whose_tap import UnknownHand, hand_of
from shopflow.photos.forms import SendForm
from shopflow.photos.models import Photo
from shopflow.photos.refusal import PhotoRefused
from shopflow.photos.services import add_photo
from shopflow.workshop.selectors.gallery import gallery_at, gallery_of
from shopflow.workshop.selectors.open_task import task_or_404
from shopflow.workshop.services.photos import photograph_task

Keep = Callable[..., Photo]
NONE_CHOSEN = "Choose at least one photo, or take one."


@dataclass(slots=True)
class Sent:
    """What became of the files of one form."""

    kept: int = 0
    refused: list[tuple[str, str]] = field(default_factory=list)

    @property
    def words(self) -> str:
        return "1 photo is received." if self.kept == 1 else f"{self.kept} photos are received."


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
        return _answer_outbox(request, keep)
    form = SendForm(request.POST)
    files = request.FILES.getlist("photos")
    if not files:
        form.add_error(None, NONE_CHOSEN)
    if not form.is_valid():
        return _page(request, facts | {"form": form, "gallery": look()}, "_gallery", status=422)
    sent = _take(files, form.cleaned_data | {"by": me(request)}, keep)
    if sent.refused:
        facts |= {"form": _typed_again(form), "gallery": look(), "sent": sent}
        return _page(request, facts, "_gallery", status=422)
    if wants_fragment(request):
        page = _page(request, facts | {"form": SendForm.fresh(), "gallery": look()}, "_gallery")
        return trigger_client_event(page, "say", {"value": sent.words})
    messages.success(request, sent.words)
    return redirect(facts["here"])


def _answer_outbox(request: HttpRequest, keep: Keep) -> HttpResponse:
    """Photos kept on a tablet and sent later, as the one who took them."""
    try:
        by = hand_of(request) or me(request)
        notes = read_envelope(request, by=by).notes
    except UnknownHand as why:
        # Not refused for good: on this device it waits until its own person signs in.
        return JsonResponse({"words": why.message}, status=423)
    except BadEnvelope as why:
        return JsonResponse({"words": str(why)}, status=400)
    form, files = SendForm(request.POST), request.FILES.getlist("photos")
    if not (form.is_valid() and files):
        return JsonResponse({"words": NONE_CHOSEN if not files else _errors(form)}, status=422)
    sent = _take(files, form.cleaned_data | {"by": by}, keep)
    if sent.refused:
        return JsonResponse({"words": " ".join(f"{name}: {why}" for name, why in sent.refused)}, status=422)
    return JsonResponse({"words": sent.words, "notes": notes})


def _errors(form: SendForm) -> str:
    return " ".join(
        f"{form.fields[name].label or name}: {' '.join(said)}" for name, said in form.errors.items()
    )


def _take(files: Sequence[File[bytes]], said: dict[str, Any], keep: Keep) -> Sent:
    """Each file for itself: one that is refused does not take the others with it."""
    sent = Sent()
    for file in files:
        try:
            keep(file=file, **said)
        except PhotoRefused as refused:
            sent.refused.append((str(file.name), refused.words))
        except Refused as refused:
            sent.refused.append((str(file.name), refused.message))
        else:
            sent.kept += 1
    return sent


def _typed_again(form: SendForm) -> SendForm:
    return SendForm(initial=form.cleaned_data | {"batch": uuid.uuid4()})


def _page(request: HttpRequest, context: dict[str, Any], fragment: str, *, status: int = 200) -> HttpResponse:
    template = f"photos/{fragment}.html" if wants_fragment(request) else "photos/gallery.html"
    return render(request, template, context, status=status)
