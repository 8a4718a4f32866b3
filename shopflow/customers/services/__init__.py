"""Deeds with customers."""

from __future__ import annotations

from shopflow.people import access
from shopflow.people.access import Deed
from shopflow.people.models import Person

from ..models import Customer


def add_customer(*, name: str, by: Person, email: str = "", phone: str = "") -> Customer:
    """Write down whose instrument it is; the facts are checked as the model says."""
    access.require(by, Deed.INSTRUMENTS)
    customer = Customer(name=name, email=email, phone=phone)
    customer.full_clean()
    customer.save()
    return customer
