"""Letters that no secret is in, and findings kept in step with the work, in the background."""

from __future__ import annotations

from typing import Any

from shopflow.catalogue.selectors import the_shop
from shopflow.celery import app
from shopflow.common import jobs

from . import change_letters, change_paper, letters, offer_paper, post
from .models import Approval, ChangeAnswer
from .services.answers import MAIL as MAIL_ANSWER
from .services.approving import MAIL
from .services.mended import note_what_is_mended_anywhere


@app.task
def look_what_is_mended() -> None:
    """Benches sign work and know nothing of findings: each hour the findings follow."""
    note_what_is_mended_anywhere()


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


@jobs.kind(MAIL_ANSWER)
def mail_answer(run: jobs.Run, *, answer_id: int) -> dict[str, Any]:
    """Send the paper of what was decided about a change order to both sides, as far as they are known."""
    rows = ChangeAnswer.objects.select_related(
        "choice", "change__finding", "change__instrument__customer", "change__made_by"
    )
    answer = rows.get(pk=answer_id)
    customer, asked = answer.change.instrument.customer, answer.change.made_by
    known = [customer.email if customer else "", asked.email]
    to = [one for one in dict.fromkeys(known) if one]
    paper = change_paper.paper_of(answer.change)
    sent = [
        post.send(change_letters.with_answer(answer=answer, to=one, shop=the_shop(), paper=paper))
        for one in to
    ]
    if not all(sent):
        raise jobs.Cannot(f"The answer is kept; {sent.count(False)} of {len(to)} letters did not go out.")
    return {"letters": len(to)}


def _both_sides(approval: Approval) -> list[str]:
    customer, sender = approval.offer.instrument.customer, approval.offer.sent_by
    known = [customer.email if customer else "", sender.email if sender else ""]
    return [one for one in dict.fromkeys(known) if one]
