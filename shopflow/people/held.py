"""A form sent too late is not lost: the server holds it until its person has signed in and sends it again.

Late is a form whose sign-in ended while it was being filled, or whose page is older than the last sign-in.
Only the person who typed it is ever offered it; keys and passwords are never held.
"""

from __future__ import annotations

from dataclasses import asdict, dataclass
from datetime import timedelta
from typing import Any

from django.http import HttpRequest

from shopflow.common import clock
from shopflow.common.htmx import own_path

from .models import Person

LASTS = timedelta(hours=24)
_PLACE = "held"
_BIGGEST = 20_000
_SECRET = frozenset({"password", "pin", "now", "new", "code"})
_OURS = frozenset({"csrfmiddlewaretoken"})
# Carried along unseen: they mean nothing to a reader.
_UNSEEN = frozenset({"version", "seen", "key", "as", "tapped_at", "sent_at"})


@dataclass(frozen=True, slots=True)
class Held:
    who: int
    url: str
    back: str
    fields: list[list[str]]
    at: float

    @property
    def words(self) -> list[tuple[str, str]]:
        """What was typed, for its person to recognise it."""
        return [
            (name.replace("_", " ").capitalize(), text)
            for name, text in self.fields
            if text and name not in _UNSEEN
        ]


def hold(request: HttpRequest, *, of: Person) -> bool:
    """Keep the form of this request for its person; False for what cannot or must not be kept."""
    fields = [
        [name, text] for name in request.POST for text in request.POST.getlist(name) if name not in _OURS
    ]
    size = sum(len(name) + len(text) for name, text in fields)
    if request.method != "POST" or not fields or size > _BIGGEST or request.FILES:
        return False
    if _SECRET & {name for name, _ in fields} or not request.accepts("text/html"):
        return False
    kept = Held(of.pk, request.path, _page_before(request), fields, clock.now().timestamp())
    request.session[_PLACE] = asdict(kept)
    return True


def waiting_for(request: HttpRequest, person: Person) -> Held | None:
    """What this person sent too late from this browser, within a day."""
    kept = any_in(request)
    return kept if kept and kept.who == person.pk and not _too_old(kept) else None


def any_in(request: HttpRequest) -> Held | None:
    kept: dict[str, Any] | None = request.session.get(_PLACE)
    return Held(**kept) if kept else None


def carry(kept: Held | None, request: HttpRequest) -> None:
    """Into a new presence, whoever opens it: another person's stays unseen until that person is back."""
    if kept and not _too_old(kept):
        request.session[_PLACE] = asdict(kept)


def let_go(request: HttpRequest) -> None:
    request.session.pop(_PLACE, None)


def _too_old(kept: Held) -> bool:
    return clock.now().timestamp() - kept.at > LASTS.total_seconds()


def _page_before(request: HttpRequest) -> str:
    """The page on which the form stood."""
    before = request.headers.get("HX-Current-URL") or request.headers.get("Referer", "")
    return own_path(before, request) or "/"
