"""Guessing is slow: ten wrong tries for one person from one device, then a rest; other devices go on.

Each try is written down as wrong before it is looked at, so that a hundred sent at once are still only ten.
"""

from __future__ import annotations

from collections.abc import Iterable
from datetime import datetime, timedelta
from math import ceil

from django.db import transaction
from django.db.models import Count, Max

from shopflow.common import clock

from .devices import Device
from .models import Person, SignInTry

WINDOW = timedelta(minutes=15)
TRIES = 10
# One address may not go through the whole list of names either. An enrolled tablet is spared this sum:
# one fool at its keypad must not keep everybody from the bench.
TRIES_OF_AN_ADDRESS = 60
_FORGOTTEN_AFTER = timedelta(days=1)


class TooManyTries(Exception):
    """Not looked at: too many wrong tries from here. `minutes` until the next one counts again."""

    def __init__(self, minutes: int) -> None:
        self.minutes = minutes
        super().__init__(f"Too many wrong tries on this device. Try again in {minutes} min.")


@transaction.atomic
def take_turn(*, who: str, device: Device) -> SignInTry:
    """Count one more try of this name from this device, or refuse it unseen."""
    # Where rows can be locked, two tries for one name stand in line; SQLite lets only one write at a time.
    list(Person.objects.select_for_update().filter(sign_in_name=who))
    here = SignInTry.objects.filter(device=device.code, went_well=False, at__gt=clock.now() - WINDOW)
    _refuse_beyond(TRIES, here.filter(person_name=_short(who)).values_list("at", flat=True))
    if not device.is_tablet:
        _refuse_beyond(TRIES_OF_AN_ADDRESS, here.values_list("at", flat=True))
    return SignInTry.objects.create(person_name=_short(who), device=device.code, went_well=False)


def _refuse_beyond(limit: int, wrong: Iterable[datetime]) -> None:
    times = sorted(wrong)
    if len(times) >= limit:
        wait = times[-limit] + WINDOW - clock.now()
        raise TooManyTries(max(1, ceil(wait / timedelta(minutes=1))))


def went_well(this_try: SignInTry) -> None:
    this_try.went_well = True
    this_try.save(update_fields=["went_well"])
    SignInTry.objects.filter(at__lt=clock.now() - _FORGOTTEN_AFTER).delete()


def tries_left(this_try: SignInTry) -> int:
    """How many more wrong ones would be looked at now."""
    wrong = SignInTry.objects.filter(
        device=this_try.device,
        person_name=this_try.person_name,
        went_well=False,
        at__gt=clock.now() - WINDOW,
    )
    return max(0, TRIES - wrong.count())


def locked_devices(person: Person) -> list[str]:
    """The devices on which this person has to wait now."""
    wrong = SignInTry.objects.filter(
        person_name=_short(person.sign_in_name), went_well=False, at__gt=clock.now() - WINDOW
    )
    counted = wrong.values("device").annotate(tries=Count("pk"), last=Max("at")).filter(tries__gte=TRIES)
    return [row["device"] for row in counted.order_by("-last")]


def release(person: Person) -> None:
    """Forget the wrong tries of this person: every device listens again."""
    SignInTry.objects.filter(person_name=_short(person.sign_in_name), went_well=False).delete()


def _short(who: str) -> str:
    return who[:60]
