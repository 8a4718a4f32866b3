"""One tap counts once, however often it is sent."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass
from typing import Any

from django.db import IntegrityError, transaction

from shopflow.common.refusals import Refused
from shopflow.people.taps import KeyUsedTwice, TapIn, fingerprint
from shopflow.workshop.models import Tap


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
    print_of_body = fingerprint(body)
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
