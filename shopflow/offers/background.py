"""Letters that no secret is in, and findings kept in step with the work, in the background."""

from __future__ import annotations

from typing import Any

from shopflow.catalogue.selectors import the_shop
from shopflow.celery import app
from shopflow.common import jobs
from shopflow.common.mail import Went
from shopflow.customers.models import Customer
from shopflow.people.models import Person

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
    paper, shop = offer_paper.paper_of(approval.offer), the_shop()
    return _mail(
        "The approval",
        [
            letters.with_approval(approval=approval, to=to, shop=shop, paper=paper)
            for to in _both_sides(approval.offer.instrument.customer, approval.offer.sent_by)
        ],
    )


@jobs.kind(MAIL_ANSWER)
def mail_answer(run: jobs.Run, *, answer_id: int) -> dict[str, Any]:
    """Send the paper of what was decided about a change order to both sides, as far as they are known."""
    rows = ChangeAnswer.objects.select_related(
        "choice", "change__finding", "change__instrument__customer", "change__made_by"
    )
    answer = rows.get(pk=answer_id)
    paper, shop = change_paper.paper_of(answer.change), the_shop()
    return _mail(
        "The answer",
        [
            change_letters.with_answer(answer=answer, to=to, shop=shop, paper=paper)
            for to in _both_sides(answer.change.instrument.customer, answer.change.made_by)
        ],
    )


def _mail(what: str, to_send: list[post.Letter]) -> dict[str, Any]:
    """Where no mail server is named nothing failed: nothing was to be had, and that is what is told."""
    went = [post.send(letter) for letter in to_send]
    refused = went.count(Went.REFUSED)
    if refused:
        raise jobs.Cannot(f"{what} is kept; {refused} of {len(went)} letters did not go out.")
    return {"mailed": went.count(Went.OUT), "not mailed, no mail server": went.count(Went.NOWHERE)}


def _both_sides(customer: Customer | None, of_the_shop: Person | None) -> list[str]:
    known = [customer.email if customer else "", of_the_shop.email if of_the_shop else ""]
    return [address for address in dict.fromkeys(known) if address]
