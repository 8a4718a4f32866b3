"""Where taps arrive: each address reads one tap, does one deed, and answers in the way it was asked."""

from __future__ import annotations

import logging
from collections.abc import Callable
from dataclasses import dataclass
from typing import Any

from django import forms
from django.http import Http404, HttpRequest, HttpResponse
from django.views.decorators.http import require_POST

from shopflow.catalogue.models import Stage
from shopflow.common.refusals import Refused
from shopflow.people import access
from shopflow.people.access import Deed, NotAllowed
from shopflow.people.envelope import BadEnvelope, Envelope, read_envelope
from shopflow.people.models import Person
from shopflow.people.whose_tap import UnknownHand, hand_of
from shopflow.workshop.forms.taps import (
    AskAgainForm,
    EmptyForm,
    HoursForm,
    MoveForm,
    SnagForm,
    TakeBackForm,
    UndoForm,
    WithReason,
)
from shopflow.workshop.models import HoursSpent, Move, Snag, Task
from shopflow.workshop.selectors.open_task import task_or_404
from shopflow.workshop.services import moves, tapped
from shopflow.workshop.services.taps import Answer, TapIn

from . import replies

log = logging.getLogger(__name__)


@dataclass(frozen=True, slots=True)
class Tapped:
    """One tap, read and found in order: whose it is, on which task, with which fields."""

    task: Task
    by: Person
    envelope: Envelope
    form: forms.Form

    @property
    def tap(self) -> TapIn:
        return self.envelope.tap

    def __getitem__(self, field: str) -> Any:
        return self.form.cleaned_data[field]

    def why(self) -> str:
        return self.form.why() if isinstance(self.form, WithReason) else ""


DeedOfTap = Callable[[Tapped], Answer]


@require_POST
def move(request: HttpRequest, pk: int) -> HttpResponse:
    """One stage on, or back with a reason."""
    return _answer(request, pk, MoveForm, _move, slot="back")


def _move(it: Tapped) -> Answer:
    return moves.move_task(
        task_id=it.task.pk,
        to_stage_id=it["to"],
        seen_stage_id=it["seen"],
        by=it.by,
        tap=it.tap,
        reason=it.why(),
        override=it["override"],
    )


@require_POST
def undo(request: HttpRequest, pk: int) -> HttpResponse:
    return _answer(request, pk, UndoForm, _undo)


def _undo(it: Tapped) -> Answer:
    move = Move.objects.select_related("target").filter(pk=it["move"], task=it.task).first()
    if move is None:
        raise Http404("There is no such move.")
    # A page from before it was signed did not ask; how old a move is, a kept tap cannot be blamed for.
    if move.target.kind == Stage.Kind.SIGNED and not it["sure"]:
        raise Refused("This work is signed. Open it, read what Undo asks, and say yes.")
    return moves.undo_move(move_id=it["move"], by=it.by, tap=it.tap)


@require_POST
def snag(request: HttpRequest, pk: int) -> HttpResponse:
    return _answer(request, pk, SnagForm, _snag, slot="snag")


def _snag(it: Tapped) -> Answer:
    return tapped.raise_snag(
        task_id=it.task.pk,
        cause=it["cause"],
        reason=it.why(),
        ask_again_on=it["day"],
        by=it.by,
        tap=it.tap,
        owner=it["owner"],
        owner_outside="" if it["owner"] else it["owner_outside"],
    )


@require_POST
def clear_snag(request: HttpRequest, pk: int, snag_pk: int) -> HttpResponse:
    def deed(it: Tapped) -> Answer:
        return tapped.clear_snag(snag_id=_snag_of(it.task, snag_pk), by=it.by, tap=it.tap)

    return _answer(request, pk, EmptyForm, deed)


@require_POST
def ask_again(request: HttpRequest, pk: int, snag_pk: int) -> HttpResponse:
    def deed(it: Tapped) -> Answer:
        return tapped.ask_again(snag_id=_snag_of(it.task, snag_pk), on=it["day"], by=it.by, tap=it.tap)

    return _answer(request, pk, AskAgainForm, deed)


def _snag_of(task: Task, pk: int) -> int:
    if not Snag.objects.filter(pk=pk, task=task).exists():
        raise Http404("There is no such snag.")
    return pk


@require_POST
def hours(request: HttpRequest, pk: int) -> HttpResponse:
    return _answer(request, pk, HoursForm, _hours, slot="hours")


def _hours(it: Tapped) -> Answer:
    return tapped.enter_hours(
        task_id=it.task.pk,
        hours=it["hours"],
        worked_on=it["worked_on"],
        tapped_on=it.envelope.day,
        by=it.by,
        tap=it.tap,
    )


@require_POST
def take_back_hours(request: HttpRequest, pk: int) -> HttpResponse:
    return _answer(request, pk, TakeBackForm, _take_back)


def _take_back(it: Tapped) -> Answer:
    # Once taken back the row is gone, and the same tap sent again still has to hear its answer.
    if HoursSpent.objects.filter(pk=it["entry"]).exclude(task=it.task).exists():
        raise Http404("There are no such hours.")
    return tapped.take_back_hours(entry_id=it["entry"], by=it.by, tap=it.tap)


def _answer(
    request: HttpRequest, pk: int, form_class: type[forms.Form], deed: DeedOfTap, *, slot: str = ""
) -> HttpResponse:
    """Read the tap, do its deed, answer; whatever is wrong with it is told in plain words."""
    try:
        by = hand_of(request)
        if by is None:
            return replies.sign_in_first(request, pk)
        access.require(by, Deed.SEE_SHOP)
        task = task_or_404(pk)
        envelope = read_envelope(request, by=by)
        form = _read_form(request, form_class)
        if not form.is_valid():
            return replies.form_again(request, task, form, slot=slot)
        answer = deed(Tapped(task=task, by=by, envelope=envelope, form=form))
    except (UnknownHand, BadEnvelope, NotAllowed, Refused) as why:
        status, words = _status_and_words(why)
        log.info("tap on task %s not taken, %s: %s", pk, status, type(why).__name__)
        return replies.refused(request, pk, status, words)
    if answer.status != 200:
        log.info("tap on task %s refused, %s", pk, answer.status)
        return replies.refused(request, pk, answer.status, answer.said["refused"], form=form, slot=slot)
    return replies.done(request, pk, answer, envelope)


def _read_form(request: HttpRequest, form_class: type[forms.Form]) -> forms.Form:
    """The form; what stands in its hidden fields was never typed, so there is nothing to show again."""
    form = form_class(request.POST)
    odd = [field.name for field in form.hidden_fields() if field.errors]
    if odd:
        raise BadEnvelope(f"This tap cannot be read ({', '.join(odd)}). Open the page again and repeat it.")
    return form


def _status_and_words(why: Exception) -> tuple[int, str]:
    if isinstance(why, Refused):
        return why.status, why.message
    if isinstance(why, UnknownHand):
        return why.status, why.message
    if isinstance(why, BadEnvelope):
        return 400, str(why)
    return 403, f"{why} Nothing was changed."
