"""Whose hand it is when a customer's answer changes the shop's work."""

from __future__ import annotations

from shopflow.common.refusals import Refused
from shopflow.people import access
from shopflow.people.access import Deed
from shopflow.people.models import OFFICE, Person


def hand_for(*wished: Person | None) -> Person:
    """The first of these who may still settle changes, else anyone of the office.

    A customer's yes is the customer's own and is kept as such; the tasks and snags that follow from it are
    written in the ledger as done by whoever of the office asked.
    """
    for person in wished:
        if person is not None and access.may(person, Deed.OFFERS):
            return person
    found = Person.objects.working().filter(role__in=OFFICE).order_by("pk").first()
    if found is None:
        raise Refused("Nobody of the shop can write this down just now. Please ring the shop.")
    return found
