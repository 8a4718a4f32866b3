"""Everything that stands in a handover report, ready in words: never hours, cost or margin."""

from __future__ import annotations

from typing import Any

from shopflow.catalogue.models import Caution, Shop
from shopflow.instruments.models import Finding, Instrument
from shopflow.offers.aftercare import aftercare
from shopflow.offers.frozen import Words, day_in_words, money
from shopflow.offers.handover_words import caution_codes
from shopflow.offers.models import Approval, ChangeOrder, Handover
from shopflow.photos.models import Photo
from shopflow.photos.selectors import pairs_among

from .before_after import before_and_after
from .changes import told_changes_of
from .fates import Fate, fate_of_findings
from .left import left_as_found
from .proved import Proved, proved
from .report_work import (
    by_the_way,
    done_by_department,
    on_day,
    still_open,
    visits_planned,
    what_holds,
    who_worked,
)
from .terms import the_terms
from .unsafe import as_furniture, unsafe_in_words

MOST_PAIRS = 12
VERDICTS = {"yes": "yes", "none": "does not apply", "no": "no"}


def report_of(handover: Handover) -> Words:
    """The report as it stands now; handing over freezes exactly this."""
    piano, shop = handover.instrument, Shop.objects.first()
    terms, shown = the_terms(), proved(piano)
    fate = fate_of_findings(piano, shown)
    pairs = _pairs(piano, shown)
    return {
        "shop": {"name": shop.name if shop else "", "town": shop.town if shop else ""},
        "instrument": _instrument(piano),
        "number": handover.number,
        "words": handover.words,
        "sold": _sold(piano, shown),
        "changes": [_change(change) for change in _settled(piano, shown)],
        "done": done_by_department(shown, fate),
        "claims": what_holds(shown),
        "pairs": pairs,
        "photos": [pair[side] for pair in pairs for side in ("before", "after")],
        "readings": before_and_after(piano, shown),
        "left": _left(piano, fate, terms.currency),
        "by_the_way": by_the_way(shown, fate),
        "open": still_open(shown, fate),
        "unsafe": unsafe_in_words(piano),
        "furniture": as_furniture(fate.left),
        "materials": handover.materials,
        "old_parts": handover.old_parts,
        "aftercare": [{"title": care.title, "text": care.text} for care in aftercare(shown.proof)],
        "care": handover.care,
        "visits": visits_planned(piano, shown),
        "tunings": handover.tunings,
        "warranty": handover.warranty,
        "cautions": _cautions(caution_codes(fate.mended, fate.left)),
        "names": who_worked(piano, shown),
        "checks": [
            [line["words"], VERDICTS.get(line["state"], "–"), line["note"]] for line in handover.checks
        ],
        "checked_by": handover.checked_by.name if handover.checked_by else "",
        "checked_on": on_day(handover.checked_at),
        "foot": terms.letter_foot,
    }


def _instrument(piano: Instrument) -> dict[str, str]:
    return {
        "number": piano.number,
        "title": piano.title,
        "serial": piano.serial,
        "finish": piano.finish,
        "arrived": day_in_words(piano.arrived_on),
        "finished": day_in_words(piano.finished_on),
    }


def _sold(piano: Instrument, shown: Proved) -> dict[str, Any]:
    """What was agreed: the option, what it was to mend, and the work in it."""
    approval = (
        Approval.objects.filter(offer__instrument=piano)
        .select_related("option", "offer")
        .order_by("-at")
        .first()
    )
    if approval is None or not shown.is_of_this_stay(approval.at):
        return {}
    option = approval.option
    mended = option.findings.exclude(treatment="leave").select_related("finding").order_by("finding__number")
    works = option.works.select_related("operation").order_by("position", "pk")
    return {
        "option": option.name,
        "version": approval.offer.version,
        "on": on_day(approval.at),
        "by": approval.typed_name,
        "mends": [row.finding.name for row in mended],
        "works": [row.operation.name for row in works],
    }


def _settled(piano: Instrument, shown: Proved) -> list[ChangeOrder]:
    """What was changed on the way in this stay."""
    settled = [change for change in told_changes_of(piano) if change.state == ChangeOrder.State.SETTLED]
    return [change for change in settled if shown.is_of_this_stay(change.answer.at)]


def _change(change: ChangeOrder) -> dict[str, Any]:
    given = change.answer
    by = "the shop, as agreed" if given.by_policy else given.typed_name
    return {
        "number": change.number,
        "finding": change.finding.name,
        "answer": given.choice.get_kind_display(),
        "words": given.choice.words,
        "by": by,
        "on": on_day(given.at),
    }


def _pairs(piano: Instrument, shown: Proved) -> list[dict[str, str]]:
    photos = Photo.objects.filter(instrument=piano, state=Photo.State.READY, hidden_at=None)
    if shown.since is not None:
        photos = photos.filter(added_at__gte=shown.since)
    return [
        {
            "before": str(pair.before.key),
            "before_on": on_day(pair.before.added_at),
            "before_words": pair.before.caption or pair.before.get_role_display(),
            "after": str(pair.after.key),
            "after_on": on_day(pair.after.added_at),
            "after_words": pair.after.caption or pair.after.get_role_display(),
        }
        for pair in pairs_among(list(photos))[:MOST_PAIRS]
    ]


def _left(piano: Instrument, fate: Fate, sign: str) -> list[dict[str, Any]]:
    """What was left on purpose, without what other work put right all the same."""
    still = {one.pk for one in fate.left}
    return [
        {
            "number": left.finding.number,
            "name": left.finding.name,
            "words": left.finding.kind.plain_words if left.finding.kind else left.finding.words,
            "reason": left.get_reason_display(),
            "by": left.decided_by,
            "on": on_day(left.decided_at),
            "consequence": left.consequence,
            "later": _later(left.can_wait, money(left.price_later, sign)),
            # Offered in a change order or an option, and not wanted: found, but declined.
            "declined": left.answer_id is not None or left.reason == Finding.Reason.WISH,
        }
        for left in left_as_found(piano)
        if left.finding_id in still
    ]


def _later(can_wait: bool, price: str) -> str:
    if not can_wait:
        return "It cannot well be done later."
    return f"It can be done later, for about {price}." if price else "It can be done later."


def _cautions(codes: list[str]) -> list[dict[str, str]]:
    found = Caution.objects.in_bulk(codes, field_name="code")
    return [{"title": found[code].title, "text": found[code].text} for code in codes if code in found]
