"""Who may do what, in one place. Views and services ask here; templates only show what views decided."""

from __future__ import annotations

from enum import StrEnum
from typing import TYPE_CHECKING, Any

from django.core.exceptions import PermissionDenied

from .models import OFFICE, Person, Role

if TYPE_CHECKING:
    from django.contrib.auth.models import AnonymousUser
    from django.db.models import Model


class Deed(StrEnum):
    SEE_SHOP = "see the shop's work"
    WORK_AT_BENCH = "move work at this bench"
    SNAG = "put a snag on a task or clear it"
    PHOTO = "add a photo"
    HOURS = "enter hours"
    UNDO_OTHERS = "undo someone else's move"
    OVERRIDE = "go past the order of work, with a reason"
    SURVEY = "survey an instrument"
    CRATES = "pack, move and count crates"
    READINGS = "take readings on a bench sheet"
    SHORTEN_CURE = "cut a cure short, with a reason"
    OFFERS = "price, offer and settle changes"
    HAND_OVER = "write the report with which an instrument goes home"
    SEE_CUSTOMER = "see customers"
    INSTRUMENTS = "take in, change and start instruments"
    LET_LEAVE = "let an instrument leave the house"
    PLAN = "plan, publish, lend hands"
    REPORTS = "see the year and the weekly reports"
    EXPORT = "take data out"
    BRING_IN = "bring in instruments from a file"
    SET_UP = "change what the shop has"
    PEOPLE = "change people and tablets"
    ROLES = "give and take the roles of manager and owner"
    TARGET = "set the year's target"


_EVERYBODY = frozenset({Role.OWNER, Role.MANAGER, Role.HAND})
_OFFICE = OFFICE
_OWNER = frozenset({Role.OWNER})

ALLOWED: dict[Deed, frozenset[Role]] = {
    Deed.SEE_SHOP: _EVERYBODY,
    Deed.WORK_AT_BENCH: _EVERYBODY,
    Deed.SNAG: _EVERYBODY,
    Deed.PHOTO: _EVERYBODY,
    Deed.HOURS: _EVERYBODY,
    Deed.UNDO_OTHERS: _OFFICE,
    Deed.OVERRIDE: _OFFICE,
    Deed.SURVEY: _EVERYBODY,
    Deed.CRATES: _EVERYBODY,
    Deed.READINGS: _EVERYBODY,
    Deed.SHORTEN_CURE: _OFFICE,
    Deed.OFFERS: _OFFICE,
    Deed.HAND_OVER: _OFFICE,
    Deed.SEE_CUSTOMER: _OFFICE,
    Deed.INSTRUMENTS: _OFFICE,
    Deed.LET_LEAVE: _OFFICE,
    Deed.PLAN: _OFFICE,
    Deed.REPORTS: _OFFICE,
    Deed.EXPORT: _OFFICE,
    Deed.BRING_IN: _OFFICE,
    Deed.SET_UP: _OFFICE,
    Deed.PEOPLE: _OFFICE,
    Deed.ROLES: _OWNER,
    Deed.TARGET: _OWNER,
}


class NotAllowed(PermissionDenied):
    def __init__(self, person: object, deed: Deed, bench: object = None) -> None:
        self.person, self.deed, self.bench = person, deed, bench
        where = f" ({bench})" if bench else ""
        super().__init__(f"{person} may not {deed.value}{where}.")


def may(person: Person | AnonymousUser | Any, deed: Deed, *, bench: Model | None = None) -> bool:
    """Whether this person may do this, at this bench where the bench matters."""
    if not isinstance(person, Person) or person.acting_role not in ALLOWED[deed]:
        return False
    if bench is None or person.acting_role != Role.HAND:
        return True
    return bench.pk == person.home_id or person.benches.filter(pk=bench.pk).exists()


def require(person: Person | AnonymousUser | Any, deed: Deed, *, bench: Model | None = None) -> None:
    if not may(person, deed, bench=bench):
        raise NotAllowed(person, deed, bench)
