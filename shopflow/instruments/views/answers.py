"""Reads one tap, does one deed, answers as it was asked: words for the outbox, a page for people."""

from __future__ import annotations

import logging
from collections.abc import Callable
from dataclasses import dataclass
from typing import Any, Protocol

from django.contrib import messages
from django.contrib.auth.views import redirect_to_login
from django.forms import Form
from django.http import HttpRequest, HttpResponse, HttpResponseRedirect, JsonResponse, QueryDict

from shopflow.common.htmx import wants_json
from shopflow.common.refusals import Refused
from shopflow.people import access
from shopflow.people.access import Deed, NotAllowed
from shopflow.people.envelope import BadEnvelope, Envelope, read_envelope
from shopflow.people.models import Person
from shopflow.people.taps import TapIn
from shopflow.people.whose_tap import UnknownHand, hand_of

log = logging.getLogger(__name__)


class SeeOther(HttpResponseRedirect):
    """After a deed: look there. A page reached so can be reloaded without doing the deed again."""

    status_code = 303


@dataclass(frozen=True, slots=True)
class Tapped:
    """One tap, read and found in order: whose it is, and with which fields."""

    by: Person
    envelope: Envelope
    form: Any

    @property
    def tap(self) -> TapIn:
        return self.envelope.tap

    def __getitem__(self, field: str) -> Any:
        return self.form.cleaned_data[field]


class Again(Protocol):
    """Shows the page once more, with why a deed was refused and with what was typed."""

    def __call__(self, *, status: int, refusal: str, form: Form | None) -> HttpResponse: ...


def answer_tap(
    request: HttpRequest,
    *,
    form: Callable[[QueryDict, Person], Form],
    deed: Callable[[Tapped], str],
    again: Again,
    on: Callable[[], str],
    right: Deed = Deed.CRATES,
) -> HttpResponse:
    """`deed` returns the words to say; `on` is where a plain form is led afterwards."""
    read: Form | None = None
    try:
        by = hand_of(request)
        if by is None:
            return _sign_in_first(request, on())
        access.require(by, right)
        envelope = read_envelope(request, by=by)
        read = form(request.POST, by)
        if not read.is_valid():
            return _refused(request, 422, f"{_errors(read)} Nothing was changed.", again, read)
        words = deed(Tapped(by, envelope, read))
    except (UnknownHand, BadEnvelope, NotAllowed, Refused) as why:
        status, words = _status_and_words(why)
        log.info("tap at %s not taken, %s: %s", request.path, status, type(why).__name__)
        if isinstance(why, Refused) and read is not None and why.field in read.fields:
            read.add_error(why.field, why.message)
        return _refused(request, status, words, again, read)
    return _done(request, words, envelope, on())


def _done(request: HttpRequest, words: str, envelope: Envelope, on: str) -> HttpResponse:
    if wants_json(request):
        return JsonResponse({"words": words, "notes": envelope.notes})
    messages.success(request, words)
    for note in envelope.notes:
        messages.warning(request, note)
    return SeeOther(on)


def _refused(request: HttpRequest, status: int, words: str, again: Again, form: Form | None) -> HttpResponse:
    if wants_json(request):
        return JsonResponse({"words": words}, status=status)
    # Whoever may not even look at the shop gets the plain refusal, not the page.
    access.require(request.user, Deed.SEE_SHOP)
    return again(status=status, refusal=words, form=form)


def _sign_in_first(request: HttpRequest, on: str) -> HttpResponse:
    if wants_json(request):
        return JsonResponse({"words": "Nobody is signed in on this tablet."}, status=401)
    return redirect_to_login(on)


def _errors(form: Form) -> str:
    """What is wrong with a form, in one breath."""
    return " ".join(
        f"{form.fields[name].label or name}: {' '.join(errors)}" if name in form.fields else " ".join(errors)
        for name, errors in form.errors.items()
    )


def _status_and_words(why: Exception) -> tuple[int, str]:
    if isinstance(why, Refused):
        return why.status, why.message
    if isinstance(why, UnknownHand):
        return why.status, why.message
    if isinstance(why, BadEnvelope):
        return 400, str(why)
    return 403, f"{why} Nothing was changed."
