"""Whose tap it is: a tap kept on a shared tablet is sent later as the one who made it.

Every bench page carries a signed mark of its person and tablet. It counts only on that same tablet while
somebody is signed in there, and never gives more than that person may do.
"""

from __future__ import annotations

from django.core import signing
from django.http import HttpRequest

from .models import Person

SALT = "whose tap"
LASTS_SECONDS = 30 * 24 * 3600


class UnknownHand(Exception):
    """The mark on a tap is not one that this tablet's pages carry."""

    message = "It cannot be told whose tap this was, so it was not taken. Sign in and do it again."


def mark_for(request: HttpRequest) -> str:
    """The mark that a page of this person on this tablet carries."""
    by_pin = isinstance(request.user, Person) and request.user.by_pin
    return signing.dumps([request.user.pk, _tablet_pk(request), by_pin], salt=SALT)


def hand_of(request: HttpRequest) -> Person | None:
    """The person who made this tap; None when nobody is signed in here."""
    here = request.user
    if not isinstance(here, Person):
        return None
    mark = request.POST.get("as", "")
    if not mark:
        return here
    person_pk, tablet_pk, by_pin = _read(mark)
    if person_pk == here.pk:
        return here
    if not tablet_pk or tablet_pk != _tablet_pk(request):
        raise UnknownHand
    person = Person.objects.filter(pk=person_pk).first()
    if person is None:
        raise UnknownHand
    person.by_pin = by_pin
    return person


def _read(mark: str) -> tuple[int, int, bool]:
    try:
        person_pk, tablet_pk, by_pin = signing.loads(mark, salt=SALT, max_age=LASTS_SECONDS)
    except signing.BadSignature as wrong:
        raise UnknownHand from wrong
    return person_pk, tablet_pk, by_pin


def _tablet_pk(request: HttpRequest) -> int:
    tablet = getattr(request, "tablet", None)
    return tablet.pk if tablet else 0
