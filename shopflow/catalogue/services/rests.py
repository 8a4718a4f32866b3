"""Rests: calendar time in which nobody works but the job may not go on."""

from __future__ import annotations

from decimal import Decimal

from django.db import transaction

from shopflow.catalogue.models import Rest
from shopflow.people.models import Person

from .rows import free_code, refuse_unless_rising
from .version import setting_up


@transaction.atomic
def add_rest(*, name: str, hours: tuple[Decimal, Decimal, Decimal], basis: str, by: Person) -> Rest:
    setting_up(by)
    taken = set(Rest.objects.values_list("code", flat=True))
    made = Rest(code=free_code(name, taken=taken, otherwise="rest", most=20))
    return _fill(made, name=name, hours=hours, basis=basis)


@transaction.atomic
def change_rest(
    *, rest: Rest, name: str, hours: tuple[Decimal, Decimal, Decimal], basis: str, by: Person
) -> Rest:
    """Work that is laid out already keeps the rest it was planned with."""
    setting_up(by)
    return _fill(rest, name=name, hours=hours, basis=basis)


def _fill(rest: Rest, *, name: str, hours: tuple[Decimal, Decimal, Decimal], basis: str) -> Rest:
    refuse_unless_rising(hours, what="Hours", field="hours_low")
    rest.name, rest.basis = name, basis
    rest.hours_low, rest.hours_likely, rest.hours_high = hours
    rest.save()
    return rest
