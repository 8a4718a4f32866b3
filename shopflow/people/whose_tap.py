"""Whose tap it is: an entry kept on a shared tablet is sent later as the one who made it.

Every bench page carries a signed mark that names its person. The mark alone signs nothing: of somebody who is
not signed in here any more only those entries count that waited on this tablet when that person left it.
"""

from __future__ import annotations

from django.core import signing
from django.http import HttpRequest

from . import left_behind
from .models import Person
from .tablets import tablet_here

SALT = "whose tap"


class UnknownHand(Exception):
    """The mark on a tap is not one that this shop's pages carry. Refused for good."""

    status = 403
    message = "It cannot be told whose tap this was, so it was not taken. Sign in and do it again."


class WaitsForItsPerson(UnknownHand):
    """Nobody here can vouch for the one who tapped: it stays on its tablet until that person signs in."""

    status = 423
    message = "This waits on the tablet until the person who tapped it signs in."


def mark_for(request: HttpRequest) -> str:
    """The mark that a page of this person carries."""
    return signing.dumps(request.user.pk, salt=SALT)


def hand_of(request: HttpRequest) -> Person | None:
    """The person who made this tap; None when nobody is signed in here."""
    here = request.user
    if not isinstance(here, Person):
        return None
    mark = request.POST.get("as", "")
    if not mark:
        return here
    person_pk = _read(mark)
    return here if person_pk == here.pk else _left_by(person_pk, request)


def _left_by(person_pk: int, request: HttpRequest) -> Person:
    person, tablet = Person.objects.filter(pk=person_pk).first(), tablet_here(request)
    if person is None or tablet is None or not left_behind.is_from(person, tablet, request):
        raise WaitsForItsPerson
    # Whatever role that is: what is sent in somebody's absence has a bench hand's rights.
    person.by_pin = True
    return person


def _read(mark: str) -> int:
    try:
        said = signing.loads(mark, salt=SALT)
    except signing.BadSignature as wrong:
        raise UnknownHand from wrong
    # Marks of pages from before an update named the tablet, too.
    return int(said[0] if isinstance(said, list) else said)
