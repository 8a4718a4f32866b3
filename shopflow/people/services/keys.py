"""The keys people come in with: passwords and PINs, handed out by the office or chosen by the person."""

from __future__ import annotations

import logging

from django.db import transaction

from shopflow.people import access, passwords, pins, presence, throttle
from shopflow.people.devices import Device
from shopflow.people.models import Person

from .sign_in import Wrong
from .staff import require_reach

log = logging.getLogger("shopflow.people.keys")


def set_pin(*, person: Person, pin: str) -> None:
    """Raises PinRefused for a PIN that everybody would try."""
    pins.check_choice(pin)
    person.pin_hash = pins.make(pin)
    person.save(update_fields=["pin_hash"])


@transaction.atomic
def give_pin(*, person: Person, pin: str, by: Person) -> None:
    """A PIN set by the office. Whoever came in with the old one is out."""
    require_reach(by, person)
    set_pin(person=person, pin=pin)
    presence.end_everywhere(person)
    log.info("%s: gave %s a PIN", by.sign_in_name, person.sign_in_name)


@transaction.atomic
def hand_out_password(*, person: Person, by: Person) -> str:
    """A new password to be said or written down once; its person has to choose another with it."""
    require_reach(by, person)
    password = reset_password(person=person)
    log.info("%s: handed %s a password", by.sign_in_name, person.sign_in_name)
    return password


def reset_password(*, person: Person) -> str:
    password = passwords.speakable()
    person.set_password(password)
    person.password_handed_out = True
    person.save(update_fields=["password", "password_handed_out"])
    presence.end_everywhere(person)
    return password


def choose_password(*, person: Person, password: str) -> None:
    """The person's own choice."""
    person.set_password(password)
    person.password_handed_out = False
    person.save(update_fields=["password", "password_handed_out"])
    log.info("%s: chose a password", person.sign_in_name)


def choose_pin(*, person: Person, pin: str) -> None:
    set_pin(person=person, pin=pin)
    log.info("%s: chose a PIN", person.sign_in_name)


def check_own_key(*, person: Person, typed: str, pin: bool, device: Device) -> None:
    """Before a key is changed, an old one once more: PIN or password. Wrong ones are counted like any."""
    this_try = throttle.take_turn(who=person.sign_in_name, device=device)
    right = pins.matches(typed, person.pin_hash) if pin else person.check_password(typed)
    if not right:
        raise Wrong("That is not right.", throttle.tries_left(this_try))
    throttle.went_well(this_try)


@transaction.atomic
def release(*, person: Person, by: Person) -> None:
    """Let every device listen to this person again."""
    access.require(by, access.Deed.PEOPLE)
    throttle.release(person)
    log.info("%s: released %s", by.sign_in_name, person.sign_in_name)
