"""Letters that no secret is in, sent in the background."""

from __future__ import annotations

from typing import Any

from shopflow.catalogue.selectors import the_shop
from shopflow.common import jobs

from . import letters, offer_paper, post
from .models import Approval
from .services.approving import MAIL


@jobs.kind(MAIL)
def mail_approval(run: jobs.Run, *, approval_id: int) -> dict[str, Any]:
    """Send the paper of what was agreed to both sides, as far as their addresses are known."""
    rows = Approval.objects.select_related(
        "option", "offer__instrument__customer", "offer__sent_by", "entered_by"
    )
    approval = rows.get(pk=approval_id)
    to = _both_sides(approval)
    paper = offer_paper.paper_of(approval.offer)
    went = [
        one
        for one in to
        if post.send(letters.with_approval(approval=approval, to=one, shop=the_shop(), paper=paper))
    ]
    if len(went) < len(to):
        raise jobs.Cannot(f"The approval is kept; {len(to) - len(went)} of {len(to)} letters did not go out.")
    return {"letters": len(went)}


def _both_sides(approval: Approval) -> list[str]:
    customer, sender = approval.offer.instrument.customer, approval.offer.sent_by
    known = [customer.email if customer else "", sender.email if sender else ""]
    return [one for one in dict.fromkeys(known) if one]
