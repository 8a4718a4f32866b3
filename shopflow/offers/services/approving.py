"""A yes to an offer: counted once, to the very words that were read, and all that follows in one deed."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date

from django.db import transaction
from django.utils import timezone

from shopflow.common import clock, jobs
from shopflow.common.refusals import Refused
from shopflow.customers.models import PrivateLink
from shopflow.instruments.models import Instrument
from shopflow.offers.models import Approval, Offer, Option
from shopflow.offers.on_behalf import hand_for
from shopflow.people import access
from shopflow.people.access import Deed
from shopflow.people.models import Person

from .laying_out import lay_out_option
from .refusals import ApprovedAlready, OtherVersion, PriceExpired

LONGEST_NAME = 80
# The kind of work that sends both sides a paper of what was agreed.
MAIL = "mail approval"


@dataclass(frozen=True, slots=True)
class Yes:
    """What was approved, by whom, on which words, and which way it came."""

    option_id: int
    typed_name: str
    fingerprint: str
    link: PrivateLink | None = None
    entered_by: Person | None = None
    signed_on: date | None = None


@transaction.atomic
def approve(
    *, offer: Offer, option_id: int, typed_name: str, fingerprint: str, link: PrivateLink
) -> Approval:
    """The customer's own yes by private link: a typed name and an explicit act. Sent twice it counts once."""
    if link.instrument_id != offer.instrument_id:
        raise Refused("This link does not open this offer.")
    return _approve(offer, Yes(option_id, typed_name, fingerprint, link=link), hand=_hand(offer, link))


@transaction.atomic
def enter_approval(
    *, offer: Offer, option_id: int, typed_name: str, fingerprint: str, signed_on: date, by: Person
) -> Approval:
    """A yes that came on paper or by letter, entered by the office, with the day on which it was signed."""
    access.require(by, Deed.OFFERS)
    _check_day(offer, signed_on)
    yes = Yes(option_id, typed_name, fingerprint, entered_by=by, signed_on=signed_on)
    return _approve(offer, yes, hand=by)


def _approve(offer: Offer, yes: Yes, *, hand: Person) -> Approval:
    # The instrument first, as laying out does: whoever else wants both then waits, and never for ever.
    Instrument.objects.select_for_update().get(pk=offer.instrument_id)
    offer = Offer.objects.select_for_update(of=("self",)).select_related("instrument").get(pk=offer.pk)
    if offer.state == Offer.State.APPROVED:
        return _given_before(offer, yes)
    if offer.state != Offer.State.SENT or offer.fingerprint != yes.fingerprint:
        raise OtherVersion(offer, _standing(offer))
    _refuse_what_is_wrong(offer, yes)
    option = _option_of(offer, yes)
    approval = Approval.objects.create(
        offer=offer,
        option=option,
        typed_name=yes.typed_name.strip()[:LONGEST_NAME],
        fingerprint=offer.fingerprint,
        link=yes.link,
        entered_by=yes.entered_by,
        signed_on=yes.signed_on,
        at=clock.now(),
    )
    offer.state = Offer.State.APPROVED
    offer.ended_at = approval.at
    offer.save(update_fields=["state", "ended_at"])
    lay_out_option(approval, hand=hand)
    jobs.enqueue(MAIL, by=hand, unique=str(approval.pk), approval_id=approval.pk)
    return approval


def _given_before(offer: Offer, yes: Yes) -> Approval:
    """The same yes sent twice is one yes; another one is told what was said before."""
    given = Approval.objects.select_related("option").get(offer=offer)
    same = given.option_id == yes.option_id and given.typed_name == yes.typed_name.strip()[:LONGEST_NAME]
    if same and given.fingerprint == yes.fingerprint:
        return given
    raise ApprovedAlready(given)


def _refuse_what_is_wrong(offer: Offer, yes: Yes) -> None:
    if not yes.typed_name.strip():
        raise Refused("Type your name: it stands for your signature.", field="typed_name")
    if offer.holds_until and (yes.signed_on or clock.today()) > offer.holds_until:
        raise PriceExpired(offer)
    if offer.instrument.left_on is not None:
        raise Refused(
            "The piano has left the house meanwhile, so nothing was approved. Please speak with us."
        )


def _option_of(offer: Offer, yes: Yes) -> Option:
    option = Option.objects.filter(offer=offer, pk=yes.option_id).first()
    if option is None:
        raise Refused("Choose one of the ways of this offer.", field="option")
    return option


def _check_day(offer: Offer, signed_on: date) -> None:
    sent_on = timezone.localdate(offer.sent_at) if offer.sent_at else clock.today()
    if not sent_on <= signed_on <= clock.today():
        raise Refused(
            f"Got {signed_on:%Y-%m-%d}; allowed is {sent_on:%Y-%m-%d}, when it was sent, to today.",
            field="signed_on",
        )


def _standing(offer: Offer) -> Offer | None:
    return Offer.objects.filter(instrument=offer.instrument_id, state=Offer.State.SENT).first()


def _hand(offer: Offer, link: PrivateLink) -> Person:
    return hand_for(offer.sent_by, link.made_by)
