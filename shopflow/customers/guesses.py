"""Whoever tries private links that lead nowhere is not listened to for a while, per address.

A secret of 256 bits is not found by trying; this keeps somebody who tries from being a burden to the house.
"""

from __future__ import annotations

from datetime import timedelta
from math import ceil

from django.db.models import F

from shopflow.common import clock

from .models import WrongLink

WINDOW = timedelta(minutes=15)
# A household opens the wrong line of a letter a few times; nobody in good faith does so thirty times.
TRIES = 30


class TooManyGuesses(Exception):
    """Not looked at: too many links from this address led nowhere. `minutes` until the next is looked at."""

    def __init__(self, minutes: int) -> None:
        self.minutes = minutes
        super().__init__(f"Too many links from here led nowhere. Try again in {minutes} min.")


def refuse_beyond(device: str) -> None:
    """Go on, unless this address has used up its tries."""
    now = clock.now()
    row = WrongLink.objects.filter(device=device, began_at__gt=now - WINDOW, count__gte=TRIES).first()
    if row is not None:
        raise TooManyGuesses(max(1, ceil((row.began_at + WINDOW - now) / timedelta(minutes=1))))


def note_wrong(device: str) -> None:
    """Count one that led nowhere; the count begins anew with each window."""
    now = clock.now()
    WrongLink.objects.filter(began_at__lte=now - WINDOW).delete()
    if not WrongLink.objects.filter(device=device).update(count=F("count") + 1):
        WrongLink.objects.update_or_create(device=device, defaults={"began_at": now, "count": 1})
