"""An offer as a paper: exactly the words that were frozen, and the yes that was given to them."""

from __future__ import annotations

from pathlib import Path
from typing import Any
from uuid import UUID

from django.utils import timezone

from shopflow.offers.frozen import Words, day_in_words
from shopflow.offers.models import Approval, Offer
from shopflow.photos import files

from .paper import Paper, pdf


def paper_of(offer: Offer) -> Path:
    """The file of a version that was sent."""
    words: Words = offer.frozen or {}
    photos = {
        one["number"]: path
        for one in words["findings"]
        if one["photo"] and (path := files.copy(UUID(one["photo"]), 400)).exists()
    }
    return pdf(
        Paper(
            name=f"offer-{words['instrument']['number']}-{words['version']}",
            layout="offer.typ",
            words=sheet(offer, words, photos=set(photos)),
            photos={_file(number): path for number, path in photos.items()},
        )
    )


def name_of(offer: Offer) -> str:
    return f"offer-{offer.instrument.number}-{offer.version}.pdf"


def sheet(offer: Offer, words: Words, *, photos: set[int]) -> dict[str, Any]:
    """What is printed, ready in words: the layout only places it."""
    given = Approval.objects.filter(offer=offer).select_related("option").first()
    return {
        "letter": _head(words),
        "over": _over(words),
        "title": f"Our offer, version {words['version']}",
        "words": words["words"],
        "replaced": _ended(offer),
        "options": [_option(one) for one in words["options"]],
        "holds": f"The prices hold until {words['holds_words']}." if words["holds_words"] else "",
        "deposit": f"With your yes we ask for a deposit of {words['deposit']}." if words["deposit"] else "",
        "value": words["value"],
        "findings": [_finding(one, photos) for one in words["findings"]],
        "unseen": words["unseen"],
        "surprise": words["surprise"],
        "warranty": words["warranty"],
        "approved": _approved(given, words) if given else [],
        "print": f"Sent on {words['sent_on_words']}. Fingerprint of this version: {offer.fingerprint}",
    }


def _head(words: Words) -> dict[str, Any]:
    shop = words["shop"]
    return {
        "shop": shop["name"],
        "town": shop["town"],
        "address": shop["address"].splitlines(),
        "demo": shop["demo"],
        "foot": words["foot"],
        "to": words["customer"],
        "kind": "Offer",
        "number": f"{words['instrument']['number']}/{words['version']}",
        "date": words["sent_on_words"],
    }


def _over(words: Words) -> str:
    piano = words["instrument"]
    serial = f" · serial {piano['serial']}" if piano["serial"] else ""
    return f"{piano['title']} · our number {piano['number']}{serial}"


def _ended(offer: Offer) -> str:
    """Said at the head of a version that no longer stands."""
    if offer.state not in {Offer.State.REPLACED, Offer.State.WITHDRAWN, Offer.State.DECLINED}:
        return ""
    return f"This version no longer stands: {offer.get_state_display()}."


def _option(option: dict[str, Any]) -> dict[str, Any]:
    same = ("letter", "name", "words", "recommended", "price", "range", "weeks", "counts", "works")
    return {name: option[name] for name in same} | {
        # Offers of before it was said have no such line.
        "furniture": option.get("furniture", ""),
        "mended": [[f"{one['number']} · {one['name']}", one["how"]] for one in option["mended"]],
        "left": [
            {
                "name": f"{one['number']} · {one['name']}",
                "why": one["why"],
                "expect": one["expect"],
                "now": one["now"] if one["ride"] else "",
                "later": one["later"],
            }
            for one in option["left"]
        ],
    }


def _file(number: int) -> str:
    return f"finding-{number}.jpg"


def _finding(one: dict[str, Any], photos: set[int]) -> dict[str, str]:
    told = [one["plain"], one["words"]]
    return {
        "name": f"{one['number']} · {one['name']}",
        "words": " ".join(part for part in told if part),
        "facts": f"{one['group']} · {one['severity']} · {one['sure']}",
        "photo": _file(one["number"]) if one["number"] in photos else "",
        "alt": one["photo_words"] or one["name"],
    }


def _approved(given: Approval, words: Words) -> list[list[str]]:
    at = timezone.localtime(given.at)
    chosen = next(one for one in words["options"] if one["id"] == given.option_id)
    signed = [["Signed on paper on", day_in_words(given.signed_on)]] if given.signed_on else []
    return [
        ["Option", f"{chosen['letter']}. {chosen['name']}, {chosen['price']}"],
        ["By", given.typed_name],
        *signed,
        ["Recorded on", f"{day_in_words(at.date())}, {at:%H:%M}"],
        ["For the version", given.fingerprint],
    ]
