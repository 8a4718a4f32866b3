"""Photos as they come in: several at once, each for itself, from a page or out of a tablet's outbox."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass, field
from typing import Any

from django.core.files import File
from django.forms import Form
from django.http import HttpRequest, HttpResponse, JsonResponse

from shopflow.common.refusals import Refused
from shopflow.people.door import me
from shopflow.people.envelope import BadEnvelope, read_envelope
from shopflow.people.whose_tap import UnknownHand, hand_of

from ..models import Photo
from ..refusal import PhotoRefused

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


def take(files: Sequence[File[bytes]], said: dict[str, Any], keep: Keep) -> Sent:
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


def answer_outbox(request: HttpRequest, form: Form, keep: Keep) -> HttpResponse:
    """Photos kept on a tablet and sent later, as the one who took them."""
    try:
        by = hand_of(request) or me(request)
        notes = read_envelope(request, by=by).notes
    except UnknownHand as why:
        return JsonResponse({"words": why.message}, status=why.status)
    except BadEnvelope as why:
        return JsonResponse({"words": str(why)}, status=400)
    files = request.FILES.getlist("photos")
    if not (form.is_valid() and files):
        return JsonResponse({"words": _errors(form) if files else NONE_CHOSEN}, status=422)
    sent = take(files, form.cleaned_data | {"by": by}, keep)
    if sent.refused:
        return JsonResponse({"words": " ".join(f"{name}: {why}" for name, why in sent.refused)}, status=422)
    return JsonResponse({"words": sent.words, "notes": notes})


def _errors(form: Form) -> str:
    return " ".join(
        f"{form.fields[name].label or name}: {' '.join(map(str, said))}" for name, said in form.errors.items()
    )
