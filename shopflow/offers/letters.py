"""The words of letters to customers."""

from __future__ import annotations

from datetime import date
from pathlib import Path

from django.utils import timezone

from shopflow.catalogue.models import Shop
from shopflow.customers.models import PrivateLink
from shopflow.instruments.models import Instrument
from shopflow.offers.models import Approval, Offer

from .post import Letter


def day(value: date) -> str:
    return f"{value:%-d %B %Y}"


def greeting(name: str) -> str:
    return f"Dear {name}," if name else "Good day,"


def with_link(*, instrument: Instrument, link: PrivateLink, address: str, to: str, shop: Shop) -> Letter:
    """Here is your way to see how your piano is getting on."""
    return Letter(
        to=to,
        subject=f"Your piano at {shop.name}",
        body=letter_body(
            greeting(link.for_whom),
            f"with the link below you can see at any time how your piano ({instrument.title}, our number "
            f"{instrument.number}) is getting on, and what waits for your decision. It needs no password.",
            address,
            about_the_link(link),
            shop=shop,
        ),
    )


def about_the_link(link: PrivateLink) -> str:
    return (
        f"The link is good until {day(link.expires_at.date())} and is meant for you alone: whoever has it "
        "sees what you see. Tell us if it went astray, and we close it."
    )


def letter_body(*parts: str, shop: Shop) -> str:
    foot = [shop.name, *shop.address.splitlines()]
    if shop.is_demo:
        foot.append("This is the demo shop: everything in it is invented.")
    return "\n\n".join([*(part for part in parts if part), "\n".join(foot)]) + "\n"


def with_offer(*, offer: Offer, link: PrivateLink, address: str, to: str, shop: Shop, paper: Path) -> Letter:
    """Here is our offer; the paper is with it, and the link leads to where it can be approved."""
    piano = offer.instrument
    holds = f"Its prices hold until {day(offer.holds_until)}. " if offer.holds_until else ""
    return Letter(
        to=to,
        subject=f"Our offer for your piano, version {offer.version}, {shop.name}",
        body=letter_body(
            greeting(link.for_whom),
            f"here is our offer for your piano ({piano.title}, our number {piano.number}), version "
            f"{offer.version}. It is with this letter as a paper. {holds}Under the link below you can read "
            "it with its photos and, if you like, give us the order. Nothing begins before you do.",
            address,
            about_the_link(link),
            shop=shop,
        ),
        paper=paper,
        paper_name=f"offer-{piano.number}-{offer.version}.pdf",
    )


def with_approval(*, approval: Approval, to: str, shop: Shop, paper: Path) -> Letter:
    """What was agreed, as a paper for both sides to keep."""
    offer, piano = approval.offer, approval.offer.instrument
    return Letter(
        to=to,
        subject=f"Agreed: “{approval.option.name}” for piano {piano.number}, {shop.name}",
        body=letter_body(
            greeting(""),
            f"“{approval.option.name}” of our offer for the {piano.title} (number {piano.number}), version "
            f"{offer.version}, was approved on {day(timezone.localdate(approval.at))} by "
            f"{approval.typed_name}. The paper with this letter holds every word of what was agreed: please "
            "keep it.",
            shop=shop,
        ),
        paper=paper,
        paper_name=f"offer-{piano.number}-{offer.version}-approved.pdf",
    )
