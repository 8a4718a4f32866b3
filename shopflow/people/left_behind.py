"""What waits on a tablet when its person leaves there: it may still be sent, by whoever comes next.

While the person is still signed in, signing out (or giving the tablet to the next one) says which entries
wait in the tablet's drawer. Those, word for word, are taken later as that person's, each counting once by its
key; nothing else is. A new password or PIN ends it, a month ends it, and it never gives more than a bench
hand's rights.
"""

from __future__ import annotations

import hashlib
import json
from collections.abc import Iterable
from datetime import timedelta
from typing import Any

from django.http import HttpRequest
from django.utils.crypto import constant_time_compare, salted_hmac

from shopflow.common import clock

from .models import OFFICE, LeftBehind, Person, Tablet
from .tablets import tablet_here

FIELD = "waiting"
MOST = 300
LASTS = timedelta(days=30)
# What the sender adds on the way, and what proves only which page it was.
_NOT_THE_ENTRY = frozenset({"csrfmiddlewaretoken", "as", "tapped_at", "sent_at"})
Pairs = Iterable[tuple[str, str]]


def note(request: HttpRequest) -> None:
    """Remember what the person who is leaving this tablet still has in its drawer."""
    person, tablet = request.user, tablet_here(request)
    # An office person who came with a password leaves nothing: such entries wait for that password.
    if not isinstance(person, Person) or tablet is None or person.acting_role in OFFICE:
        return
    LeftBehind.objects.filter(at__lt=clock.now() - LASTS).delete()
    rows = [
        LeftBehind(tablet=tablet, person=person, digest=digest, person_keys=keys_of(person), at=clock.now())
        for digest in _digests(request.POST.get(FIELD, ""))
    ]
    LeftBehind.objects.bulk_create(
        rows,
        update_conflicts=True,
        update_fields=["person_keys", "at"],
        unique_fields=["tablet", "person", "digest"],
    )


def is_from(person: Person, tablet: Tablet, request: HttpRequest) -> bool:
    """Whether this very entry waited on this tablet when this person left, with the keys of today."""
    given = [(name, value) for name, values in request.POST.lists() for value in values]
    row = LeftBehind.objects.filter(
        tablet=tablet, person=person, digest=_digest(request.path, given), at__gte=clock.now() - LASTS
    ).first()
    return row is not None and constant_time_compare(row.person_keys, keys_of(person))


def keys_of(person: Person) -> str:
    """Another one as soon as the person has another password or PIN."""
    return salted_hmac("left behind", f"{person.password}\n{person.pin_hash}", algorithm="sha256").hexdigest()


def _digests(said: str) -> set[str]:
    try:
        entries = json.loads(said or "[]")
        return {_digest(str(each["url"]), _pairs(each["fields"])) for each in entries[:MOST]}
    except (ValueError, TypeError, KeyError):
        # Nothing that a person did: what cannot be read waits for its own person.
        return set()


def _pairs(fields: Any) -> list[tuple[str, str]]:
    return [(str(name), str(value)) for name, value in fields]


def _digest(url: str, fields: Pairs) -> str:
    """The same for an entry as the tablet tells it and as it is sent: line ends come in two ways."""
    kept = sorted((name, value.replace("\r\n", "\n")) for name, value in fields if name not in _NOT_THE_ENTRY)
    return hashlib.sha256(json.dumps([url, kept]).encode()).hexdigest()
