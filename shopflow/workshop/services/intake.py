"""Taking an instrument in, changing what is known of it, and promising it."""

from __future__ import annotations

from collections.abc import Mapping
from datetime import date
from typing import Any

from django.db import transaction

from shopflow.catalogue.models import Route
from shopflow.common import clock, pulse
from shopflow.common.refusals import Refused
from shopflow.customers.services import add_customer
from shopflow.instruments.models import Instrument
from shopflow.people import access
from shopflow.people.access import Deed
from shopflow.people.models import Person
from shopflow.photos.models import Photo
from shopflow.workshop.models import PromiseMade

from . import layout, passages

FACTS = (
    "number",
    "kind",
    "maker",
    "serial",
    "year_built",
    "size_cm",
    "finish",
    "alterations",
    "fragile",
    "place",
    "customer",
    "promised_on",
)


class ChangedMeanwhile(Refused):
    """Somebody else saved this instrument since the page was opened. Answered with 409."""

    status = 409

    def __init__(self, instrument: Instrument) -> None:
        super().__init__(
            f"{instrument} was changed by someone else meanwhile. Nothing of yours was saved yet."
        )
        self.instrument = instrument


@transaction.atomic
def take_in(
    *,
    by: Person,
    arrived_on: date | None = None,
    new_owner: Mapping[str, str] | None = None,
    route: Route | None = None,
    **facts: Any,
) -> Instrument:
    """Enter an instrument that has come into the house; its facts are checked as the model says.

    Its owner may be written down with it (`new_owner`: name, email, phone), and a route laid out at once.
    """
    access.require(by, Deed.INSTRUMENTS)
    instrument = Instrument(**_with_owner(facts, new_owner, by=by))
    instrument.full_clean()
    instrument.save()
    passages.arrive(instrument=instrument, on=arrived_on or clock.today(), by=by)
    _write_down_promise(instrument, instead_of=None, by=by)
    if route is not None:
        layout.start_route(instrument=instrument, route=route, by=by)
    return instrument


@transaction.atomic
def change_facts(
    *,
    instrument: Instrument,
    seen_version: int,
    facts: Mapping[str, Any],
    by: Person,
    new_owner: Mapping[str, str] | None = None,
) -> Instrument:
    """Change what is known of an instrument, if nobody changed it since this version was seen."""
    access.require(by, Deed.INSTRUMENTS)
    facts = _with_owner(facts, new_owner, by=by)
    kept = Instrument.objects.select_for_update().get(pk=instrument.pk)
    same = all(getattr(kept, name) == value for name, value in facts.items())
    if same:
        return kept
    if kept.version != seen_version:
        raise ChangedMeanwhile(kept)
    promised_before, owner_before = kept.promised_on, kept.customer_id
    for name, value in facts.items():
        setattr(kept, name, value)
    kept.version += 1
    if kept.promised_on != promised_before:
        # The plan spoke of another day; its next one will speak of this.
        kept.promise_odds = None
    kept.full_clean()
    kept.save(update_fields=[*facts, "version", "promise_odds"])
    _write_down_promise(kept, instead_of=promised_before, by=by)
    if kept.customer_id != owner_before:
        # What was chosen for one owner to see was not chosen for the next.
        Photo.objects.filter(instrument=kept, for_customer=True).update(for_customer=False)
    pulse.bump()
    return kept


def _with_owner(
    facts: Mapping[str, Any], new_owner: Mapping[str, str] | None, *, by: Person
) -> Mapping[str, Any]:
    return facts if new_owner is None else {**facts, "customer": add_customer(by=by, **new_owner)}


def _write_down_promise(instrument: Instrument, *, instead_of: date | None, by: Person) -> None:
    """A promise that moves stays on record, so that one that slips again and again is seen."""
    if instrument.promised_on != instead_of:
        PromiseMade.objects.create(
            instrument=instrument, on=instrument.promised_on, instead_of=instead_of, by=by
        )


def promise(*, instrument: Instrument, on: date | None, by: Person) -> Instrument:
    """Promise the instrument for a day, or take the promise back."""
    return change_facts(
        instrument=instrument, seen_version=instrument.version, facts={"promised_on": on}, by=by
    )


def next_number() -> str:
    """The number after the highest plain one in use; the shop may give any other."""
    plain = [int(n) for n in Instrument.objects.values_list("number", flat=True) if n.isdecimal()]
    return str(max(plain, default=100) + 1)
