"""What a customer sees of an offer, whole and in words. What does not stand here cannot be seen."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from decimal import Decimal
from math import ceil
from typing import Any

from shopflow.catalogue.models import Terms
from shopflow.catalogue.selectors import the_shop
from shopflow.common import clock
from shopflow.instruments.models import Finding, GroupLook
from shopflow.instruments.selectors import CurrentFinding, by_consequence, current_findings
from shopflow.offers.frozen import Words, day_in_words, fingerprint_of, money
from shopflow.offers.models import Offer, Option, OptionFinding, Treatment
from shopflow.offers.selectors.terms import the_terms
from shopflow.offers.selectors.unsafe import as_furniture
from shopflow.photos.models import Photo

SEVERITY = {
    0: "as good as new",
    1: "a matter of looks, or to be watched",
    2: "it affects playing or looks, and will grow",
    3: "it does not do its job, or damages other parts",
    4: "not safe, or the structure itself",
}
CONFIDENCE = {
    Finding.Confidence.SEEN: "seen",
    Finding.Confidence.INFERRED: "inferred from what we saw",
    Finding.Confidence.HIDDEN: "hidden until the piano is taken apart",
}
# What is dearer by less than half later is no reason to hurry anybody.
_MUCH_DEARER = Decimal("1.5")


@dataclass(frozen=True, slots=True)
class _Known:
    """All that is read of an instrument once for all options."""

    sign: str
    findings: dict[int, CurrentFinding]

    def those(self, rows: Iterable[OptionFinding]) -> list[CurrentFinding]:
        return [self.findings[row.finding_id] for row in rows if row.finding_id in self.findings]

    def place(self, finding: int) -> int:
        """The gravest first; what is gone meanwhile last."""
        places = {pk: place for place, pk in enumerate(self.findings)}
        return places.get(finding, len(places))


def freeze(offer: Offer) -> None:
    """Fix the words of an offer and their fingerprint; the caller saves it."""
    offer.frozen = words_of(offer)
    offer.fingerprint = fingerprint_of(offer.frozen)


def words_of(offer: Offer) -> Words:
    """Ready in words: page and paper say the same, and no later change of the shop's says anything else."""
    piano, shop, terms = offer.instrument, the_shop(), the_terms()
    found = by_consequence(current_findings(piano))
    known = _Known(terms.currency, {one.pk: one for one in found})
    options = list(
        offer.options.prefetch_related("works__operation", "findings__remedy", "findings__finding")
    )
    return {
        "shop": {"name": shop.name, "town": shop.town, "address": shop.address, "demo": shop.is_demo},
        "instrument": _instrument(offer),
        "customer": piano.customer.name if piano.customer else "",
        "version": offer.version,
        "sent_on": clock.today().isoformat(),
        "sent_on_words": day_in_words(clock.today()),
        "words": offer.words,
        "value": offer.value_words,
        "holds_until": offer.holds_until.isoformat() if offer.holds_until else "",
        "holds_words": day_in_words(offer.holds_until),
        "deposit": money(offer.deposit, terms.currency) if offer.deposit else "",
        "options": [_option(one, place, known) for place, one in enumerate(options)],
        "findings": _findings(found),
        "unseen": _unseen(offer),
        "surprise": _surprise(terms),
        "warranty": terms.warranty,
        "foot": terms.letter_foot,
    }


def letter_of(place: int) -> str:
    """By which an option is named: A, B, C ..."""
    return chr(ord("A") + place)


def weeks_in_words(low: Decimal | None, high: Decimal | None) -> str:
    """Whole weeks, rounded up: nobody is told half a week, and nobody none."""
    if low is None or high is None:
        return ""
    least, most = (max(1, ceil(weeks)) for weeks in (low, high))
    if most == 1:
        return "within a week from your yes"
    return f"{most if least >= most else f'{least} to {most}'} weeks from your yes"


def _instrument(offer: Offer) -> dict[str, str]:
    piano = offer.instrument
    return {"number": piano.number, "title": piano.title, "serial": piano.serial}


def _option(option: Option, place: int, known: _Known) -> dict[str, Any]:
    rows = list(option.findings.all())
    rows.sort(key=lambda row: known.place(row.finding_id))
    mended = [row for row in rows if row.treatment != Treatment.LEAVE]
    left = [row for row in rows if row.treatment == Treatment.LEAVE]
    return {
        "id": option.pk,
        "letter": letter_of(place),
        "level": option.level,
        "name": option.name,
        "words": option.words,
        "recommended": option.is_recommended,
        "price": money(option.price, known.sign),
        "range": _range(option, known.sign),
        "weeks": option.weeks_words or weeks_in_words(option.weeks_low, option.weeks_high),
        "counts": _counts(len(mended), len(left)),
        "mended": [_mended(row) for row in mended],
        "works": [_work(work) for work in option.works.all()],
        "left": [_left(row, known) for row in left],
        "furniture": as_furniture(known.those(left)),
    }


def _range(option: Option, sign: str) -> str:
    if option.price_low is None or option.price_high is None:
        return ""
    return f"between {money(option.price_low, sign)} and {money(option.price_high, sign)}"


def _counts(mended: int, left: int) -> str:
    return f"{mended or 'no'} finding{'' if mended == 1 else 's'} put right, {left or 'none'} left"


def _work(work: Any) -> str:
    return work.operation.name + (f" ({work.times} times)" if work.times > 1 else "")


def _mended(row: OptionFinding) -> dict[str, Any]:
    how = row.remedy.name if row.remedy else "put right by the work listed below"
    return {"number": row.finding.number, "name": row.finding.name, "how": how}


def _left(row: OptionFinding, known: _Known) -> dict[str, Any]:
    return {
        "number": row.finding.number,
        "name": row.finding.name,
        "why": row.get_reason_display(),
        "expect": row.consequence,
        "can_wait": row.can_wait,
        "now": _now(row, known),
        "later": money(row.price_later, known.sign) if row.can_wait else "not possible",
        "ride": _is_cheap_now(row),
    }


def _now(row: OptionFinding, known: _Known) -> str:
    return "nothing more" if row.price_now == 0 else money(row.price_now, known.sign)


def _is_cheap_now(row: OptionFinding) -> bool:
    if row.price_now is None:
        return False
    return (
        not row.can_wait or (row.price_later or Decimal(0)) >= max(row.price_now, Decimal(1)) * _MUCH_DEARER
    )


def _findings(found: Iterable[CurrentFinding]) -> list[dict[str, Any]]:
    open_ones = [one for one in found if one.state != Finding.State.MENDED]
    photos = _first_photos([one.pk for one in open_ones])
    return [
        {
            "number": one.number,
            "name": one.name,
            "plain": one.plain_words if one.plain_words != one.name else "",
            "words": one.words[:1].upper() + one.words[1:],
            "group": one.group.name,
            "severity": SEVERITY[one.severity],
            "sure": CONFIDENCE[Finding.Confidence(one.confidence)],
            "if_left": one.if_left,
            "photo": str(photos[one.pk].key) if one.pk in photos else "",
            "photo_words": photos[one.pk].caption if one.pk in photos else "",
        }
        for one in open_ones
    ]


def _first_photos(findings: list[int]) -> dict[int, Photo]:
    """The first photo of each finding, one chosen for the customer before all others."""
    rows = Photo.objects.ready().filter(finding__in=findings)
    first: dict[int, Photo] = {}
    for photo in rows.order_by("-for_customer", "added_at", "pk"):
        first.setdefault(photo.finding_id or 0, photo)
    return first


def _unseen(offer: Offer) -> list[str]:
    """Groups of which the last survey that came to them saw nothing or not all."""
    looks = GroupLook.objects.filter(survey__instrument=offer.instrument).select_related("group", "survey")
    last: dict[int, GroupLook] = {}
    for look in looks.order_by("survey__number"):
        last[look.group_id] = look
    not_whole = {GroupLook.Word.PARTLY, GroupLook.Word.NOT}
    seen = sorted(last.values(), key=lambda look: look.group.position)
    return [
        f"{look.group.name}: {look.get_word_display()}" + (f" ({look.why})" if look.why else "")
        for look in seen
        if look.word in not_whole
    ]


def _surprise(terms: Terms) -> str:
    """By which rule of the shop the price may move when the piano is open."""
    if terms.surprise == Terms.Surprise.FIXED:
        return "Nothing: the price is fixed, and what comes to light when the piano is open is ours to carry."
    if terms.surprise == Terms.Surprise.UP_TO:
        return (
            "What nobody could see before the piano was open. Up to "
            f"{terms.surprise_percent} % of the price we do what is needed; beyond it we ask you first."
        )
    return "What nobody could see before the piano was open. We ask you before every extra, with a photo."
