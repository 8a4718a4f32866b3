"""From draft to sent, and what may become of an offer besides a yes."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date, timedelta
from typing import Any

from django.db import transaction
from django.db.models import Max

from shopflow.common import clock, jobs
from shopflow.common.refusals import Refused
from shopflow.customers.services import links
from shopflow.customers.services.links import FreshLink
from shopflow.instruments.models import Instrument
from shopflow.offers.models import Offer, Option
from shopflow.offers.selectors.terms import the_terms
from shopflow.people import access
from shopflow.people.access import Deed
from shopflow.people.models import Person

from .freezing import freeze
from .refusals import DraftChanged

MOST_OPTIONS = 4


@dataclass(frozen=True, slots=True)
class Sent:
    """An offer just sent, and the link that leads to it, whose secret is known only now."""

    offer: Offer
    fresh: FreshLink


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
def send(*, offer: Offer, seen_edition: int, by: Person, for_whom: str = "") -> Sent:
    """Freeze a draft and make the link to it; the version that waited is replaced and stays readable."""
    access.require(by, Deed.OFFERS)
    offer = _held(offer)
    if offer.state != Offer.State.DRAFT:
        raise Refused(
            f"Version {offer.version} is {offer.get_state_display()}; what was sent is not sent again."
        )
    if offer.edition != seen_edition:
        raise DraftChanged(offer)
    _refuse_unfinished(offer)
    standing = Offer.objects.filter(instrument=offer.instrument, state=Offer.State.SENT)
    why = f"replaced by version {offer.version}"
    standing.update(state=Offer.State.REPLACED, ended_at=clock.now(), ended_why=why)
    freeze(offer)
    offer.state, offer.sent_at, offer.sent_by = Offer.State.SENT, clock.now(), by
    offer.save(update_fields=["frozen", "fingerprint", "state", "sent_at", "sent_by"])
    fresh = links.make(instrument=offer.instrument, by=by, for_whom=for_whom)
    return Sent(offer, fresh)


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
    offer = _held(offer)
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
    offer = _held(offer)
    if offer.state == state:
        return
    if offer.state not in of:
        raise Refused(f"Version {offer.version} is {offer.get_state_display()}; nothing was changed.")
    if not why.strip():
        raise Refused("Say why, in a few words.", field="why")
    offer.state, offer.ended_at, offer.ended_why = state, clock.now(), why.strip()[:300]
    offer.save(update_fields=["state", "ended_at", "ended_why"])


def _refuse_unfinished(offer: Offer) -> None:
    options = list(offer.options.all())
    if not options:
        raise Refused("An offer needs at least one option.")
    if offer.holds_until is None or offer.holds_until < clock.today():
        given = f"{offer.holds_until:%Y-%m-%d}" if offer.holds_until else "no day"
        raise Refused(f"“Price holds until” is {given}; allowed is today or later.", field="holds_until")
    nameless = [option for option in options if not option.name.strip()]
    if nameless:
        raise Refused("Each option needs a name.")


def held_draft(offer: Offer, seen_edition: int) -> Offer:
    """The draft, held for the one who changes it; refused when it was sent or changed meanwhile."""
    offer = _held(offer)
    if offer.state != Offer.State.DRAFT:
        raise Refused(
            f"Version {offer.version} is {offer.get_state_display()}: make a new version of it instead."
        )
    if offer.edition != seen_edition:
        raise DraftChanged(offer)
    return offer


def _held(offer: Offer) -> Offer:
    return (
        Offer.objects.select_for_update(of=("self",)).select_related("instrument__customer").get(pk=offer.pk)
    )
