"""Signing in: by PIN on a shop tablet, by password anywhere. Each success and each refusal is a log line."""

from __future__ import annotations

import json
import logging
from collections.abc import Callable

from django.contrib.auth import authenticate
from django.http import HttpRequest

from shopflow.people import pins, tablets, throttle
from shopflow.people.devices import Device
from shopflow.people.models import Person, SignInTry, Tablet

log = logging.getLogger("shopflow.people.sign_in")


class Refused(Exception):
    """Not signed in; the text says why in words for the person at the keys."""


class NotATablet(Refused):
    def __init__(self) -> None:
        super().__init__(
            "A PIN opens only the shop’s own tablets. Here, sign in with your name and password."
        )


class Wrong(Refused):
    def __init__(self, what: str, left: int) -> None:
        self.left = left
        super().__init__(f"{what} {_left(left)}")


def check_pin(*, person: Person, pin: str, device: Device) -> None:
    """Return quietly when this is the person's PIN; else raise Refused or TooManyTries."""
    if not device.is_tablet:
        raise off_a_tablet(person_id=person.pk, device=device)
    this_try = _turn(person.sign_in_name, device)
    if not (person.works_here and pins.matches(pin, person.pin_hash, renew=_renew(person))):
        _tell("refused, wrong PIN", person.sign_in_name, device)
        raise Wrong("That is not the PIN.", throttle.tries_left(this_try))
    throttle.went_well(this_try)
    _tell("PIN", person.sign_in_name, device)


def off_a_tablet(*, person_id: int, device: Device) -> NotATablet:
    """The refusal of a PIN where no PIN counts, right or wrong; it is not looked at."""
    _tell("refused, PIN off a tablet", f"person {person_id}", device)
    return NotATablet()


def check_password(*, request: HttpRequest, sign_in_name: str, password: str, device: Device) -> Person:
    """The person whose name and password these are; else raise Refused or TooManyTries."""
    who = sign_in_name.strip().lower()
    this_try = _turn(who, device)
    person = authenticate(request, username=who, password=password)
    if not isinstance(person, Person) or not person.works_here:
        _tell("refused, wrong name or password", who, device)
        raise Wrong("This name and this password do not belong together.", throttle.tries_left(this_try))
    throttle.went_well(this_try)
    _tell("password", who, device)
    return person


def enrol_device(*, code: str, device: Device) -> tuple[Tablet, str]:
    """The tablet that this device is from now on, and the secret by which it will be known."""
    this_try = _turn("tablet code", device)
    made = tablets.enrol(code=code)
    if made is None:
        _tell("refused, wrong tablet code", "", device)
        raise Wrong(
            "That is no code of ours, or it is too old. Ask for a new one.", throttle.tries_left(this_try)
        )
    throttle.went_well(this_try)
    _tell("tablet code", made[0].name, device)
    return made


def _turn(who: str, device: Device) -> SignInTry:
    try:
        return throttle.take_turn(who=who, device=device)
    except throttle.TooManyTries:
        _tell("refused unseen, too many tries", who, device)
        raise


def _renew(person: Person) -> Callable[[str], None]:
    def keep(fresh: str) -> None:
        Person.objects.filter(pk=person.pk).update(pin_hash=fresh)

    return keep


def _left(tries: int) -> str:
    if tries == 0:
        return "That was the last try for now: this device has to wait 15 minutes for this name."
    return f"{tries} more {'try' if tries == 1 else 'tries'}, then this device has to wait 15 minutes."


def _tell(how: str, who: str, device: Device) -> None:
    """One line, whatever was typed: quotes, line ends and strange signs come out escaped."""
    level = logging.WARNING if how.startswith("refused") else logging.INFO
    log.log(level, "sign-in (%s): %s on %s", how, json.dumps(who[:60]), json.dumps(device.code))
