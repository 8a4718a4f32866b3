"""A change order as a paper: exactly the words that were frozen, and what was answered to them."""

from __future__ import annotations

from pathlib import Path
from typing import Any
from uuid import UUID

from django.utils import timezone

from shopflow.catalogue.models import Shop
from shopflow.offers.frozen import day_in_words
from shopflow.offers.models import ChangeAnswer, ChangeOrder
from shopflow.offers.selectors.terms import the_terms
from shopflow.photos import files

from .paper import Paper, letter_head, pdf


def paper_of(change: ChangeOrder) -> Path:
    """The file; made only of what was frozen, so that paper and page tell the same."""
    words: dict[str, Any] = change.frozen or {}
    photo = files.copy(UUID(words["photo"]), 1600) if words.get("photo") else None
    has_photo = photo is not None and photo.exists()
    name = f"change-order-{change.instrument.number}-{change.number}"
    return pdf(
        Paper(
            name=name,
            layout="change.typ",
            words=_sheet(change, words, has_photo=has_photo),
            photos={"photo.jpg": photo} if photo is not None and has_photo else {},
        )
    )


def _sheet(change: ChangeOrder, words: dict[str, Any], *, has_photo: bool) -> dict[str, Any]:
    given = ChangeAnswer.objects.filter(change=change).select_related("choice", "entered_by").first()
    customer = change.instrument.customer
    sent = timezone.localdate(change.sent_at) if change.sent_at else None
    return {
        "letter": letter_head(
            shop=Shop.objects.get(),
            terms=the_terms(),
            kind="Change order",
            number=f"{words['instrument']['number']}/{words['number']}",
            date=day_in_words(sent),
            to=customer.name if customer else "",
        ),
        "over": f"Change order {words['number']} · {words['instrument']['title']}",
        "title": words["finding"],
        "what": words["what"],
        "why_hidden": words["why_hidden"],
        "policy": words["policy"],
        "photo": "photo.jpg" if has_photo else "",
        "photo_words": words["photo_words"] or words["finding"],
        "decide_by": words["decide_by_words"],
        "stops": _stops(words),
        "moves": "The day we promised moves by the days of your answer." if words["moves_promise"] else "",
        "choices": [_choice(one, given) for one in words["choices"]],
        "answered": _answered(given) if given else [],
        "print": f"Words of {day_in_words(sent)}, print {change.fingerprint[:16]}",
    }


def _stops(words: dict[str, Any]) -> str:
    if not words["stops"]:
        return ""
    return f"We do not go on with: {', '.join(words['stops'])}. Everything else goes on."


def _choice(choice: dict[str, Any], given: ChangeAnswer | None) -> dict[str, Any]:
    later = choice["price_later"]
    told = {name: choice[name] for name in ("title", "price")}
    # What was asked before it was written down tells of no such thing.
    besides = f"It also takes: {', '.join(choice['besides'])}." if choice.get("besides") else ""
    words = " ".join(part for part in (choice["words"], besides, choice.get("credit", "")) if part)
    return told | {
        "words": words,
        "chosen": given is not None and given.choice_id == choice["id"],
        "days": choice["days"][:1].upper() + choice["days"][1:],
        "consequence": f"What to expect: {choice['consequence']}" if choice["consequence"] else "",
        "later": f"Done later, in a job of its own: about {later}." if later else "",
    }


def _answered(given: ChangeAnswer) -> list[list[str]]:
    at = timezone.localtime(given.at)
    by = f"{given.typed_name}, by the shop's terms" if given.by_policy else given.typed_name
    return [
        ["Answer", given.choice.get_kind_display().capitalize()],
        ["By", by],
        ["On", f"{day_in_words(at.date())}, {at:%H:%M}"],
    ]
