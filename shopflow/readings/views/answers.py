"""How a tap on a sheet is read and answered: JSON for the outbox, the sheet again or a way back."""

from __future__ import annotations

import logging
from collections.abc import Callable
from functools import wraps

from django.contrib import messages
from django.contrib.auth.views import redirect_to_login
from django.core.exceptions import PermissionDenied
from django.forms import Form
from django.http import HttpRequest, HttpResponse, JsonResponse
from django.views.decorators.http import require_POST

from shopflow.common.htmx import wants_json
from shopflow.common.refusals import Refused
from shopflow.people import access
from shopflow.people.access import Deed, NotAllowed
from shopflow.people.envelope import BadEnvelope, Envelope, read_envelope
from shopflow.people.models import Person
from shopflow.people.taps import TapIn
from shopflow.people.whose_tap import UnknownHand, hand_of
from shopflow.workshop.services.taps import Answer
from shopflow.workshop.views.replies import SeeOther

log = logging.getLogger(__name__)
View = Callable[..., HttpResponse]
PageAgain = Callable[[int, str], HttpResponse]


def by_hand(view: View) -> View:
    """Before a tap: whose it is (`by`), before anything else is looked at; strangers learn no more."""

    @require_POST
    @wraps(view)
    def guarded(request: HttpRequest, *args: object, **kwargs: object) -> HttpResponse:
        try:
            by = hand_of(request)
            if by is None:
                return _sign_in_first(request)
            access.require(by, Deed.SEE_SHOP)
        except UnknownHand as why:
            return _turned_away(request, why.message, why.status)
        except NotAllowed as why:
            return _turned_away(request, str(why))
        return view(request, by, *args, **kwargs)

    return guarded


def answer_tap(
    request: HttpRequest,
    by: Person,
    *,
    back: str,
    form: Form | None,
    deed: Callable[[TapIn], Answer],
    again: PageAgain,
) -> HttpResponse:
    """Read the tap, look at its form, do its deed; `again` draws the page with what is wrong.

    Where all that is wrong is a value beyond what is possible, the answer says so: "measured again?"
    """
    try:
        envelope = read_envelope(request, by=by)
        if form is not None and not form.is_valid() and not getattr(form, "kept_after_yes", False):
            asks = bool(getattr(form, "asks_again", False))
            return _refused(request, 422, words_of(form), again, ask=asks)
        answer = deed(envelope.tap)
    except Refused as why:
        return _refused(request, why.status, why.message, again)
    except BadEnvelope as why:
        return _refused(request, 400, str(why), again)
    except NotAllowed as why:
        return _refused(request, 403, f"{why} Nothing was changed.", again)
    if answer.status != 200:
        said = answer.said
        return _refused(request, answer.status, said["refused"], again, ask=bool(said.get("ask")))
    return _done(request, answer, envelope, back)


def words_of(form: Form) -> str:
    """What is wrong with a form, in a line for the outbox."""
    lines = [
        f"{form.fields[name].label or name}: {' '.join(errors)}" if name in form.fields else " ".join(errors)
        for name, errors in form.errors.items()
    ]
    return " ".join([*lines, "Nothing was changed."])


def _done(request: HttpRequest, answer: Answer, envelope: Envelope, back: str) -> HttpResponse:
    words = answer.said["words"]
    if wants_json(request):
        return JsonResponse({"words": words, "notes": envelope.notes})
    messages.success(request, words)
    for note in envelope.notes:
        messages.warning(request, note)
    return SeeOther(back)


def _refused(
    request: HttpRequest, status: int, words: str, again: PageAgain, *, ask: bool = False
) -> HttpResponse:
    log.info("tap on a sheet not taken, %s", status)
    if wants_json(request):
        return JsonResponse({"words": words, "ask": ask}, status=status)
    # Whoever may not even look at the shop gets the plain refusal, not the sheet.
    access.require(request.user, Deed.SEE_SHOP)
    return again(status, words)


def _sign_in_first(request: HttpRequest) -> HttpResponse:
    if wants_json(request):
        return JsonResponse({"words": "Nobody is signed in on this tablet."}, status=401)
    return redirect_to_login(request.path.partition("/sheet/")[0] + "/" if "/sheet/" in request.path else "/")


def _turned_away(request: HttpRequest, words: str, status: int = 403) -> HttpResponse:
    if wants_json(request):
        return JsonResponse({"words": words}, status=status)
    raise PermissionDenied(words)
