"""Beginning an offer, a new version of it, and what may become of it besides a yes."""

from __future__ import annotations

from datetime import date, timedelta
from typing import Any

from django.db import transaction
from django.db.models import Max

from shopflow.common import clock, jobs
from shopflow.common.refusals import Refused
from shopflow.instruments.models import Instrument
from shopflow.offers.models import Offer, Option
from shopflow.offers.selectors.terms import the_terms
from shopflow.people import access
from shopflow.people.access import Deed
from shopflow.people.models import Person

from .refusals import DraftChanged

MOST_OPTIONS = 4


@transaction.atomic
def begin(*, instrument: Instrument, by: Person, key: str = "") -> tuple[Offer, bool]:
    """A draft without options yet, numbered after the last; and whether this form made it only now."""
    access.require(by, Deed.OFFERS)
    Instrument.objects.select_for_update().get(pk=instrument.pk)
    there = Offer.objects.filter(instrument=instrument, key=key).first() if key else None
    if there is not None:
        return there, False
    terms = the_terms()
    last = Offer.objects.filter(instrument=instrument).aggregate(last=Max("version"))["last"] or 0
    made = Offer.objects.create(
        instrument=instrument,
        version=last + 1,
        holds_until=clock.today() + timedelta(days=terms.holds_days),
        made_by=by,
        made_at=clock.now(),
        key=key,
    )
    return made, True


@transaction.atomic
def copy_as_draft(*, offer: Offer, by: Person, key: str = "") -> Offer:
    """A new version beside the old one, to be changed and sent; the old one stays as it is until then."""
    made, is_new = begin(instrument=offer.instrument, by=by, key=key)
    if not is_new:
        return made
    made.words, made.value_words, made.deposit = offer.words, offer.value_words, offer.deposit
    made.save(update_fields=["words", "value_words", "deposit"])
    for option in offer.options.prefetch_related("works", "findings"):
        _copy_option(option, into=made)
    ask_for_weeks(made, by=by)
    return made


def _copy_option(option: Option, *, into: Offer) -> None:
    rows: list[Any] = [*option.works.all(), *option.findings.all()]
    option.pk, option.offer = None, into
    option.weeks_low = option.weeks_likely = option.weeks_high = None
    option.weeks_words = ""
    option._state.adding = True
    option.save(force_insert=True)
    for row in rows:
        row.pk, row.option = None, option
        row._state.adding = True
        row.save(force_insert=True)


@transaction.atomic
def withdraw(*, offer: Offer, by: Person, why: str) -> None:
    """Take an offer back that waits for its answer, or throw away a draft (it stays in the records)."""
    _end(offer, Offer.State.WITHDRAWN, {Offer.State.SENT, Offer.State.DRAFT}, why=why, by=by)


@transaction.atomic
def decline(*, offer: Offer, by: Person, why: str) -> None:
    """The customer said no, by whatever way; the office writes it down."""
    _end(offer, Offer.State.DECLINED, {Offer.State.SENT}, why=why, by=by)


@transaction.atomic
def note_deposit(*, offer: Offer, on: date, by: Person) -> None:
    """The deposit of an approved offer has come in."""
    access.require(by, Deed.OFFERS)
    offer = held(offer)
    if offer.state != Offer.State.APPROVED:
        raise Refused("A deposit belongs to an offer that was approved.")
    if on > clock.today():
        raise Refused(f"Got {on:%Y-%m-%d}; allowed is today or earlier.", field="on")
    offer.deposit_noted_on = on
    offer.save(update_fields=["deposit_noted_on"])


def ask_for_weeks(offer: Offer, *, by: Person) -> None:
    """Have the plan say how many weeks each option will take; until then the draft says that it is asked."""
    try:
        jobs.enqueue("foresee offer", by=by, unique=str(offer.pk), offer_id=offer.pk)
    except LookupError:
        return  # a house without the plan


def _end(offer: Offer, state: str, of: set[Offer.State], *, why: str, by: Person) -> None:
    access.require(by, Deed.OFFERS)
    offer = held(offer)
    if offer.state == state:
        return
    if offer.state not in of:
        raise Refused(f"Version {offer.version} is {offer.get_state_display()}; nothing was changed.")
    if not why.strip():
        raise Refused("Say why, in a few words.", field="why")
    offer.state, offer.ended_at, offer.ended_why = state, clock.now(), why.strip()[:300]
    offer.save(update_fields=["state", "ended_at", "ended_why"])


def held_draft(offer: Offer, seen_edition: int) -> Offer:
    """The draft, held for the one who changes it; refused when it was sent or changed meanwhile."""
    offer = held(offer)
    if offer.state != Offer.State.DRAFT:
        raise Refused(
            f"Version {offer.version} is {offer.get_state_display()}: make a new version of it instead."
        )
    if offer.edition != seen_edition:
        raise DraftChanged(offer)
    return offer


def held(offer: Offer) -> Offer:
    """This version, held for the one who changes it, with its instrument and owner."""
    return (
        Offer.objects.select_for_update(of=("self",)).select_related("instrument__customer").get(pk=offer.pk)
    )
