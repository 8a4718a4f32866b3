"""The words of letters to customers."""

from __future__ import annotations

from datetime import date

from shopflow.catalogue.models import Shop
from shopflow.customers.models import PrivateLink
from shopflow.instruments.models import Instrument

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
