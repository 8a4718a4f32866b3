"""Sending an offer: from here on nothing in it changes."""

from __future__ import annotations

from dataclasses import dataclass

from django.db import transaction

from shopflow.common import clock
from shopflow.common.refusals import Refused
from shopflow.customers.services import links
from shopflow.customers.services.links import FreshLink
from shopflow.offers.models import Offer
from shopflow.people import access
from shopflow.people.access import Deed
from shopflow.people.models import Person

from .freezing import freeze
from .objecting import refuse_what_is_objected_to
from .offers import held
from .refusals import DraftChanged
from .safety import refuse_what_is_unsafe


@dataclass(frozen=True, slots=True)
class Sent:
    """An offer just sent, and the link that leads to it, whose secret is known only now."""

    offer: Offer
    fresh: FreshLink


@transaction.atomic
def send(*, offer: Offer, seen_edition: int, by: Person, for_whom: str = "") -> Sent:
    """Freeze a draft and make the link to it; the version that waited is replaced and stays readable."""
    access.require(by, Deed.OFFERS)
    offer = held(offer)
    if offer.state != Offer.State.DRAFT:
        raise Refused(
            f"Version {offer.version} is {offer.get_state_display()}; what was sent is not sent again."
        )
    if offer.edition != seen_edition:
        raise DraftChanged(offer)
    _refuse_unfinished(offer)
    refuse_what_is_unsafe(offer)
    refuse_what_is_objected_to(offer)
    standing = Offer.objects.filter(instrument=offer.instrument, state=Offer.State.SENT)
    why = f"replaced by version {offer.version}"
    standing.update(state=Offer.State.REPLACED, ended_at=clock.now(), ended_why=why)
    freeze(offer)
    offer.state, offer.sent_at, offer.sent_by = Offer.State.SENT, clock.now(), by
    offer.customer = offer.instrument.customer
    offer.save(update_fields=["frozen", "fingerprint", "state", "sent_at", "sent_by", "customer"])
    fresh = links.make(instrument=offer.instrument, by=by, for_whom=for_whom)
    return Sent(offer, fresh)


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
