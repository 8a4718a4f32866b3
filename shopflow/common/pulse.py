"""The shop's pulse: a number that grows whenever Floor or Bench would look different."""

from __future__ import annotations

from django.db.models import F

from .models import Pulse


def bump() -> None:
    """Called by every deed that changes what a Floor or a Bench shows, inside its transaction."""
    if not Pulse.objects.filter(pk=1).update(number=F("number") + 1):
        Pulse.objects.get_or_create(pk=1, defaults={"number": 1})


def current() -> int:
    return Pulse.objects.filter(pk=1).values_list("number", flat=True).first() or 0
