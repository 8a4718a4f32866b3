"""The letters about a change order: the question with its link, and the answer for both sides to keep."""

from __future__ import annotations

from pathlib import Path

from django.utils import timezone

from shopflow.catalogue.models import Shop
from shopflow.customers.models import PrivateLink

from .letters import about_the_link, day, greeting, letter_body
from .models import ChangeAnswer, ChangeOrder
from .post import Letter


def with_change(
    *, change: ChangeOrder, link: PrivateLink, address: str, to: str, shop: Shop, paper: Path
) -> Letter:
    """Something came to light: here is what it is, and under the link it can be decided."""
    piano = change.instrument
    return Letter(
        to=to,
        subject=f"A decision about your piano, {shop.name}",
        body=letter_body(
            greeting(link.for_whom),
            f"at work on your piano ({piano.title}, our number {piano.number}) something came to light that "
            f"nobody could see before: {change.finding.name}. What it is, what can be done and what that "
            "costs stands in the paper with this letter. Please decide under the link below by "
            f"{day(change.decide_by)}; until then we do not go on with what it touches, and with everything "
            "else we do.",
            address,
            about_the_link(link),
            shop=shop,
        ),
        paper=paper,
        paper_name=f"change-order-{piano.number}-{change.number}.pdf",
    )


def with_answer(*, answer: ChangeAnswer, to: str, shop: Shop, paper: Path) -> Letter:
    """What was decided, as a paper for both sides to keep."""
    change, piano = answer.change, answer.change.instrument
    by = "by the shop, as agreed before" if answer.by_policy else f"by {answer.typed_name}"
    return Letter(
        to=to,
        subject=f"Decided: change order {change.number} for piano {piano.number}, {shop.name}",
        body=letter_body(
            greeting(""),
            f"about “{change.finding.name}” on the {piano.title} (number {piano.number}) this was decided on "
            f"{day(timezone.localdate(answer.at))} {by}: {answer.choice.get_kind_display()}. The paper with "
            "this letter holds every word of it: please keep it.",
            shop=shop,
        ),
        paper=paper,
        paper_name=f"change-order-{piano.number}-{change.number}-decided.pdf",
    )
