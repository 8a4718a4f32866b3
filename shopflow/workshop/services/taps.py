"""One tap counts once, however often it is sent."""

from __future__ import annotations

import hashlib
import json
import re
from collections.abc import Callable, Mapping
from dataclasses import dataclass
from datetime import datetime, timedelta
from typing import Any

from django.db import IntegrityError, transaction

from shopflow.common import clock
from shopflow.common.refusals import Refused
from shopflow.people.models import Person, Tablet
from shopflow.workshop.models import Tap

from .refusals import KeyUsedTwice

_KEY = re.compile(r"[A-Za-z0-9_-]{8,64}")
LATE_AFTER = timedelta(minutes=5)


@dataclass(frozen=True, slots=True)
class TapIn:
    """What a device says of one tap: its key, its own clock, and which device it is."""

    key: str
    client: str
    tapped_at: datetime
    tablet: Tablet | None = None

    @classmethod
    def of(
        cls, *, key: str, by: Person, tablet: Tablet | None = None, tapped_at: datetime | None = None
    ) -> TapIn:
        if not _KEY.fullmatch(key):
            raise BadKey(key)
        client = f"tablet:{tablet.pk}" if tablet else f"person:{by.pk}"
        return cls(key=key, client=client, tapped_at=tapped_at or clock.now(), tablet=tablet)

    @property
    def clock_is_off_by(self) -> timedelta:
        """How far the device's clock is ahead of ours; a late tap is behind, so only "ahead" is a fault."""
        return self.tapped_at - clock.now()


class BadKey(ValueError):
    def __init__(self, key: str) -> None:
        super().__init__(
            f"A tap's key is 8 to 64 letters, digits, hyphens and underscores; got {len(key)} characters."
        )


@dataclass(frozen=True, slots=True)
class Answer:
    status: int
    said: dict[str, Any]
    replayed: bool = False


def once(tap: TapIn, *, body: Mapping[str, Any], deed: Callable[[], dict[str, Any]]) -> Answer:
    """Do the deed and keep its answer in one transaction; give a known key the answer it got before.

    A refusal is an answer too: it is kept, so that a packet sent twice hears the same thing twice. Known
    keys are looked up only when the deed fails, which a second copy always does: most taps are new.
    """
    print_of_body = _fingerprint(body)
    try:
        with transaction.atomic():
            said = deed()
            _keep(tap, print_of_body, 200, said)
        return Answer(200, said)
    except IntegrityError:
        # The deed was taken back with its answer: a copy of this tap was here before.
        known = _known(tap, print_of_body)
        if known is None:
            raise
        return known
    except Refused as refused:
        return _known(tap, print_of_body) or _keep_refusal(tap, print_of_body, refused)


def _known(tap: TapIn, print_of_body: str) -> Answer | None:
    row = Tap.objects.filter(client=tap.client, key=tap.key).first()
    if row is None:
        return None
    if row.fingerprint != print_of_body:
        raise KeyUsedTwice
    return Answer(row.status, row.answer, replayed=True)


def _keep(tap: TapIn, print_of_body: str, status: int, said: dict[str, Any]) -> None:
    Tap.objects.create(client=tap.client, key=tap.key, fingerprint=print_of_body, status=status, answer=said)


def _keep_refusal(tap: TapIn, print_of_body: str, refused: Refused) -> Answer:
    try:
        with transaction.atomic():
            _keep(tap, print_of_body, refused.status, refused.answer())
    except IntegrityError:
        known = _known(tap, print_of_body)
        if known is None:
            raise
        return known
    return Answer(refused.status, refused.answer())


def _fingerprint(body: Mapping[str, Any]) -> str:
    plain = json.dumps(body, sort_keys=True, default=str, ensure_ascii=False)
    return hashlib.sha256(plain.encode("utf-8", "surrogatepass")).hexdigest()
