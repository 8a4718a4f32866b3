"""Private links: the one way in which a customer sees an instrument, without a name and without a password.

The secret is 256 bits from the system's own source, is shown once, and is kept only as its SHA-256: a secret
of this length needs no slow hash, and what is stolen from the database opens nothing.
"""

from __future__ import annotations

import hashlib
import secrets
from dataclasses import dataclass
from datetime import timedelta

from django.db import models, transaction

from shopflow.common import clock
from shopflow.common.refusals import Refused
from shopflow.people import access
from shopflow.people.access import Deed
from shopflow.people.models import Person

from ..models import LinkVisit, PrivateLink

SECRET_BYTES = 32
USUAL_DAYS = 180
MOST_DAYS = 730
# A page that is looked at again and again is noted once in this while.
_NOTED_EVERY = timedelta(minutes=5)


class MadeAlready(Refused):
    """The same form made a link before; its secret was shown then and is not known any more."""

    def __init__(self) -> None:
        super().__init__(
            "This link was made already, and its address shown once. Make another if it is lost."
        )


@dataclass(frozen=True, slots=True)
class FreshLink:
    """A link just made, and its secret, which nobody can find out later."""

    link: PrivateLink
    token: str


@transaction.atomic
def make(
    *, instrument: models.Model, by: Person, for_whom: str = "", days: int = USUAL_DAYS, key: str = ""
) -> FreshLink:
    """Make a link to this instrument; what it returns holds the secret, shown once and never again."""
    access.require(by, Deed.OFFERS)
    if not 1 <= days <= MOST_DAYS:
        raise Refused(f"Got {days}; a link may be good for 1 to {MOST_DAYS} days.", field="days")
    rows = PrivateLink.objects.select_for_update().filter(instrument_id=instrument.pk)
    if key and rows.filter(key=key).exists():
        raise MadeAlready
    token = secrets.token_urlsafe(SECRET_BYTES)
    link = PrivateLink.objects.create(
        instrument_id=instrument.pk,
        customer_id=getattr(instrument, "customer_id", None),
        fingerprint=fingerprint(token),
        for_whom=for_whom,
        made_by=by,
        made_at=clock.now(),
        expires_at=clock.now() + timedelta(days=days),
        key=key,
    )
    return FreshLink(link, token)


@transaction.atomic
def revoke(*, link: PrivateLink, by: Person) -> None:
    """From now on this link opens nothing, in no browser; revoking it again changes nothing."""
    access.require(by, Deed.OFFERS)
    PrivateLink.objects.filter(pk=link.pk, revoked_at=None).update(revoked_at=clock.now(), revoked_by=by)


def by_token(token: str) -> PrivateLink | None:
    """The link of this secret while it is good. Wrong, expired and revoked take the same way and time."""
    rows = PrivateLink.objects.select_related("instrument")
    found = rows.filter(fingerprint=fingerprint(token)).first()
    return found if found is not None and found.is_live(clock.now()) else None


def by_key(pk: int) -> PrivateLink | None:
    """The link that a browser was let in by, while it is good, with its instrument."""
    found = PrivateLink.objects.select_related("instrument__customer", "visit").filter(pk=pk).first()
    return found if found is not None and found.is_live(clock.now()) else None


def note_visit(link: PrivateLink) -> None:
    """Remember for the office that the page was looked at; a few minutes more or less do not matter."""
    visit, now = getattr(link, "visit", None), clock.now()
    if visit is None or now - visit.last_at > _NOTED_EVERY:
        LinkVisit.objects.update_or_create(link=link, defaults={"last_at": now})


def fingerprint(token: str) -> str:
    return hashlib.sha256(token.encode(errors="surrogatepass")).hexdigest()
