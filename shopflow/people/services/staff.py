"""Who works here: taking people on, changing what is known of them, stopping them, letting them back in."""

from __future__ import annotations

import logging
from collections.abc import Iterable, Mapping
from decimal import Decimal
from typing import Any

from django.db import transaction

from shopflow.people import access, pins, presence, selectors
from shopflow.people.access import Deed
from shopflow.people.edits import mark_of, refuse_stale
from shopflow.people.models import OFFICE, Person, Role, WorkingDay

log = logging.getLogger("shopflow.people.staff")


class LastOwner(Exception):
    def __init__(self) -> None:
        super().__init__("A shop needs an owner who can sign in: make someone else owner first.")


def facts_of(person: Person) -> dict[str, Any]:
    """What an editor sees of a person, in plain values."""
    return {
        "name": person.name,
        "sign_in_name": person.sign_in_name,
        "email": person.email,
        "role": str(person.role),
        "home": person.home_id,
        "benches": sorted(person.benches.values_list("pk", flat=True)),
        "hours": {str(day.weekday): f"{day.hours:.2f}" for day in person.working_days.all() if day.hours},
    }


def version_of(person: Person) -> str:
    return mark_of(facts_of(person))


@transaction.atomic
def create_person(
    *,
    name: str,
    sign_in_name: str,
    role: str = Role.HAND,
    home: Any = None,
    benches: Iterable[Any] = (),
    hours: Mapping[int, Decimal] | None = None,
    email: str = "",
    password: str | None = None,
    pin: str = "",
) -> Person:
    """A new person with everything that is known; hours are paid hours by weekday, 0 = Monday."""
    person = Person.objects.create_person(
        sign_in_name=sign_in_name,
        name=name,
        role=role,
        home=home,
        email=email,
        password=password,
        pin_hash=pins.make(pin) if pin else "",
    )
    person.benches.set(benches)
    _set_hours(person, hours or {})
    return person


def add_person(*, by: Person, role: str, **given: Any) -> Person:
    access.require(by, Deed.PEOPLE)
    if role in OFFICE:
        access.require(by, Deed.ROLES)
    person = create_person(role=role, **given)
    log.info("%s: added %s as %s", by.sign_in_name, person.sign_in_name, role)
    return person


@transaction.atomic
def change_person(*, person_id: int, seen: str, by: Person, benches: Iterable[Any], **given: Any) -> Person:
    """Keep what was typed, unless someone else saved since `seen`."""
    person = _locked(person_id)
    require_reach(by, person)
    refuse_stale(now=facts_of(person), wanted=_facts_in(given, benches), seen=seen)
    hours = given.pop("hours")
    _change_role(person, given.pop("role"), by)
    for name, value in given.items():
        setattr(person, name, value)
    person.save()
    person.benches.set(benches)
    _set_hours(person, hours)
    log.info("%s: changed %s", by.sign_in_name, person.sign_in_name)
    return person


@transaction.atomic
def stop(*, person_id: int, by: Person) -> Person:
    """From this moment the person opens nothing, on no device; what the person did stays in the ledger."""
    person = _locked(person_id)
    require_reach(by, person)
    if selectors.is_last_owner(person):
        raise LastOwner
    person.is_active = False
    person.save(update_fields=["is_active"])
    presence.end_everywhere(person)
    log.info("%s: stopped %s", by.sign_in_name, person.sign_in_name)
    return person


@transaction.atomic
def let_back_in(*, person_id: int, by: Person) -> Person:
    person = _locked(person_id)
    require_reach(by, person)
    person.is_active = True
    person.save(update_fields=["is_active"])
    log.info("%s: let %s back in", by.sign_in_name, person.sign_in_name)
    return person


def _locked(person_id: int) -> Person:
    # All owners are locked too: two who stop each other at once must not leave a shop without one.
    list(Person.objects.select_for_update().filter(role=Role.OWNER).order_by("pk"))
    return Person.objects.select_for_update().get(pk=person_id)


def require_reach(by: Person, person: Person) -> None:
    """Managers look after the hands and themselves; others of the office are the owner's to change."""
    access.require(by, Deed.PEOPLE)
    if person.is_office and person.pk != by.pk:
        access.require(by, Deed.ROLES)


def within_reach(by: Person, person: Person) -> bool:
    try:
        require_reach(by, person)
    except access.NotAllowed:
        return False
    return True


def _change_role(person: Person, role: str, by: Person) -> None:
    if role == person.role:
        return
    if role in OFFICE or person.role in OFFICE:
        access.require(by, Deed.ROLES)
    if selectors.is_last_owner(person):
        raise LastOwner
    log.info("%s: %s was %s, is %s", by.sign_in_name, person.sign_in_name, person.role, role)
    person.role = role


def _set_hours(person: Person, hours: Mapping[int, Decimal]) -> None:
    person.working_days.all().delete()
    WorkingDay.objects.bulk_create(
        WorkingDay(person=person, weekday=day, hours=count) for day, count in hours.items() if count
    )


def _facts_in(typed: Mapping[str, Any], benches: Iterable[Any]) -> dict[str, Any]:
    """What was typed, in the plain values of `facts_of`."""
    home = typed["home"]
    return dict(typed) | {
        "role": str(typed["role"]),
        "home": home.pk if home else None,
        "benches": sorted(bench.pk for bench in benches),
        "hours": {str(day): f"{hours:.2f}" for day, hours in typed["hours"].items() if hours},
    }
