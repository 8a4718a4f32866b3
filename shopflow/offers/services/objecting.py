"""What a rebuilder would object to is answered before an offer goes out, or put right."""

from __future__ import annotations

from django.db import transaction

from shopflow.common import clock
from shopflow.common.refusals import Refused
from shopflow.offers.models import Objection, Offer, Option
from shopflow.offers.selectors.objections import objections_to
from shopflow.offers.selectors.whole_job import Reckoner
from shopflow.people import access
from shopflow.people.access import Deed
from shopflow.people.models import Person

from .offers import held_draft

LONGEST_REASON = 300


@transaction.atomic
def answer_objection(
    *, offer: Offer, option: Option, words: str, reason: str, seen_edition: int, by: Person
) -> Objection:
    """Say why an option is sent as it is, against this objection. Said again, the new reason counts."""
    access.require(by, Deed.OFFERS)
    offer = held_draft(offer, seen_edition)
    standing = {(one.option.pk, one.words) for one in objections_to(offer, Reckoner.of(offer.instrument))}
    if (option.pk, words) not in standing:
        raise Refused("This objection does not stand any more: look at the draft once more.")
    if not reason.strip():
        raise Refused("Say why it stays as it is, in a few words.", field="reason")
    answer, _ = Objection.objects.update_or_create(
        option=option,
        words=words,
        defaults={"reason": reason.strip()[:LONGEST_REASON], "by": by, "at": clock.now()},
    )
    return answer


def refuse_what_is_objected_to(offer: Offer) -> None:
    """Nothing is sent that a rebuilder would object to, but with the office's reason beside it."""
    found = objections_to(offer, Reckoner.of(offer.instrument))
    said = [f"“{one.option.name}”: {one.words}" for one in found if one.stands]
    if said:
        raise Refused(f"A rebuilder would object. {' '.join(said)} Put it right, or say why it stays so.")
