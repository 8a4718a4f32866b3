"""What an offer or a change order may leave: the rule of every door, asked of each option and each answer."""

from __future__ import annotations

from shopflow.common.refusals import Refused
from shopflow.customers.models import PrivateLink
from shopflow.instruments.models import Finding
from shopflow.instruments.selectors.safety import Unsafe, in_words, unanswered
from shopflow.instruments.services.safety import WHAT_TO_DO, Unanswered, refuse_leaving
from shopflow.offers.models import ChangeChoice, ChangeOrder, Offer, Treatment

from .freezing import letter_of


def refuse_what_is_unsafe(offer: Offer) -> None:
    """Name every option that leaves something unsafe; what was found after it was written is left as well."""
    # What is being mended by work that was agreed is not left by an offer of other work.
    unsafe = [one for one in unanswered(offer.instrument) if one.found.state != Finding.State.IN_WORK]
    if not unsafe:
        return
    told = []
    for place, option in enumerate(offer.options.prefetch_related("findings")):
        mended = {row.finding_id for row in option.findings.all() if row.treatment != Treatment.LEAVE}
        left = [one for one in unsafe if one.found.pk not in mended]
        if left:
            told.append(f"{letter_of(place)}, “{option.name}”, leaves {in_words(left)}")
    if told:
        raise Refused(f"Unsafe, so it cannot just be left. {'. '.join(told)}. {WHAT_TO_DO}")


def may_be_left(finding: Finding) -> bool:
    """Whether leaving it is an answer to choose from: it is safe, or somebody answers for it."""
    return all(one.found.pk != finding.pk for one in unanswered(finding.instrument))


def refuse_offering_to_leave(change: ChangeOrder) -> None:
    """Before a change order goes to the customer: leaving what is unsafe is no answer to choose from."""
    if change.choices.filter(kind=ChangeChoice.Kind.LEAVE).exists():
        refuse_leaving(change.finding, before="Unsafe, so “leave it as found” cannot be offered")


def refuse_settling(change: ChangeOrder, choice: ChangeChoice, *, link: PrivateLink | None) -> None:
    """Before an answer is taken that leaves something unsafe; a customer is told whom to speak with."""
    if choice.kind != ChangeChoice.Kind.LEAVE:
        return
    try:
        refuse_leaving(change.finding)
    except Unanswered as refused:
        raise _plainly(refused.left) if link is not None else refused from None


def _plainly(left: list[Unsafe]) -> Refused:
    names = "; ".join(one.found.plain_words for one in left)
    return Refused(
        f"This is a matter of safety: {names}. It cannot be left by a tick alone. Please ring or write to the"
        " shop: they tell you what it means, and what they need from you in writing."
    )
