"""Whose instruments they are: each owner once; nobody is taken for someone else by a name alone."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass, field

from shopflow.customers.models import Customer

from .drafts import InstrumentDraft

Owner = tuple[str, str, str]


@dataclass(slots=True)
class Owners:
    """Which customer each owner of the file is. Those without a primary key are new."""

    by_owner: dict[Owner, Customer] = field(default_factory=dict)
    namesakes: list[str] = field(default_factory=list)

    @property
    def fresh(self) -> list[Customer]:
        return [customer for customer in self._all() if customer.pk is None]

    @property
    def known(self) -> list[Customer]:
        return [customer for customer in self._all() if customer.pk is not None]

    def _all(self) -> list[Customer]:
        return list({id(customer): customer for customer in self.by_owner.values()}.values())


def owners_of(drafts: Iterable[InstrumentDraft], customers: Iterable[Customer]) -> Owners:
    """Tell the owners of these instruments apart, and from the customers that the house knows."""
    found = Owners()
    known = _by_name(customers)
    told = dict.fromkeys(draft.owner for draft in drafts if draft.owner)
    # Bare names last: in one file they are whoever has that name and says more of himself.
    for owner in sorted(told, key=lambda owner: not (owner[1] or owner[2])):
        found.by_owner[owner] = _who(owner, found, known)
    return found


def _who(owner: Owner, found: Owners, known: dict[str, list[Customer]]) -> Customer:
    name, email, phone = owner
    of_the_file = [
        customer for (other, *_), customer in found.by_owner.items() if other.casefold() == name.casefold()
    ]
    for customer in [*known.get(name.casefold(), []), *of_the_file]:
        if _same(customer, email, phone):
            if customer.pk is None:
                customer.email, customer.phone = customer.email or email, customer.phone or phone
            return customer
    if not email and not phone and len({id(customer) for customer in of_the_file}) == 1:
        return of_the_file[0]
    if name.casefold() in known:
        found.namesakes.append(name)
    return Customer(name=name, email=email, phone=phone)


def _same(customer: Customer, email: str, phone: str) -> bool:
    """Whether e-mail or telephone agree, and neither disagrees."""
    pairs = [(customer.email.casefold(), email.casefold()), (_digits(customer.phone), _digits(phone))]
    both = [(ours, theirs) for ours, theirs in pairs if ours and theirs]
    return bool(both) and all(ours == theirs for ours, theirs in both)


def _digits(phone: str) -> str:
    return "".join(sign for sign in phone if sign.isalnum())


def _by_name(customers: Iterable[Customer]) -> dict[str, list[Customer]]:
    names: dict[str, list[Customer]] = {}
    for customer in customers:
        names.setdefault(customer.name.casefold(), []).append(customer)
    return names
