"""Everything that stands in a handover report, ready in words: never hours, cost or margin."""

from __future__ import annotations

from collections import defaultdict
from typing import Any

from django.utils import timezone

from shopflow.catalogue.models import Caution, Shop, Stage
from shopflow.instruments.models import Finding, Instrument
from shopflow.offers.frozen import Words, day_in_words, money
from shopflow.offers.handover_words import caution_codes
from shopflow.offers.models import Approval, ChangeOrder, Handover, LaidOut
from shopflow.photos.models import Photo
from shopflow.photos.selectors import pairs_among
from shopflow.workshop.models import Move, Task

from .before_after import before_and_after
from .changes import told_changes_of
from .handovers import fate_of_findings
from .left import left_as_found
from .terms import the_terms

MOST_PAIRS = 12
VERDICTS = {"yes": "yes", "none": "does not apply", "no": "no"}


def report_of(handover: Handover) -> Words:
    """The report as it stands now; handing over freezes exactly this."""
    piano, shop = handover.instrument, Shop.objects.first()
    terms = the_terms()
    fate = fate_of_findings(piano)
    pairs = _pairs(piano)
    return {
        "shop": {"name": shop.name if shop else "", "town": shop.town if shop else ""},
        "instrument": _instrument(piano),
        "number": handover.number,
        "words": handover.words,
        "sold": _sold(piano),
        "changes": [_change(change) for change in told_changes_of(piano) if change.state == "settled"],
        "done": _done(piano),
        "pairs": pairs,
        "photos": [pair[side] for pair in pairs for side in ("before", "after")],
        "readings": before_and_after(piano),
        "left": _left(piano, terms.currency),
        "materials": handover.materials,
        "old_parts": handover.old_parts,
        "care": handover.care,
        "tunings": handover.tunings,
        "warranty": handover.warranty,
        "cautions": _cautions(caution_codes(fate.mended, fate.left)),
        "names": _names(piano),
        "checks": [
            [line["words"], VERDICTS.get(line["state"], "–"), line["note"]] for line in handover.checks
        ],
        "checked_by": handover.checked_by.name if handover.checked_by else "",
        "checked_on": _on(handover.checked_at),
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


def _sold(piano: Instrument) -> dict[str, Any]:
    """What was agreed: the option, what it was to mend, and the work in it."""
    approval = (
        Approval.objects.filter(offer__instrument=piano)
        .select_related("option", "offer")
        .order_by("-at")
        .first()
    )
    if approval is None:
        return {}
    option = approval.option
    mended = option.findings.exclude(treatment="leave").select_related("finding").order_by("finding__number")
    works = option.works.select_related("operation").order_by("position", "pk")
    return {
        "option": option.name,
        "version": approval.offer.version,
        "on": _on(approval.at),
        "by": approval.typed_name,
        "mends": [row.finding.name for row in mended],
        "works": [row.operation.name for row in works],
    }


def _change(change: ChangeOrder) -> dict[str, Any]:
    given = change.answer
    by = "the shop, as agreed" if given.by_policy else given.typed_name
    return {
        "number": change.number,
        "finding": change.finding.name,
        "answer": given.choice.get_kind_display(),
        "words": given.choice.words,
        "by": by,
        "on": _on(given.at),
    }


def _done(piano: Instrument) -> list[dict[str, Any]]:
    """What was signed, department by department, with the findings that each piece of work mended."""
    mends: dict[int, list[str]] = defaultdict(list)
    ties = LaidOut.objects.filter(task__instrument=piano, finding__isnull=False)
    ties = ties.exclude(finding__state=Finding.State.LEFT).order_by("finding__number")
    for task_id, name in ties.values_list("task_id", "finding__name"):
        mends[task_id].append(name)
    tasks = Task.objects.signed().before_leaving().filter(instrument=piano)
    together: dict[str, list[dict[str, Any]]] = defaultdict(list)
    for task in tasks.select_related("department", "operation").order_by(
        "department__position", "position", "pk"
    ):
        together[task.department.name].append(
            {
                "name": task.name,
                "what": task.operation.what if task.operation else "",
                "on": _on(task.stage_since),
                "mends": list(dict.fromkeys(mends[task.pk])),
            }
        )
    return [{"department": name, "works": works} for name, works in together.items()]


def _pairs(piano: Instrument) -> list[dict[str, str]]:
    photos = Photo.objects.filter(instrument=piano, state=Photo.State.READY, hidden_at=None)
    return [
        {
            "before": str(pair.before.key),
            "before_on": _on(pair.before.added_at),
            "before_words": pair.before.caption or pair.before.get_role_display(),
            "after": str(pair.after.key),
            "after_on": _on(pair.after.added_at),
            "after_words": pair.after.caption or pair.after.get_role_display(),
        }
        for pair in pairs_among(list(photos))[:MOST_PAIRS]
    ]


def _left(piano: Instrument, sign: str) -> list[dict[str, Any]]:
    return [
        {
            "number": left.finding.number,
            "name": left.finding.name,
            "words": left.finding.kind.plain_words if left.finding.kind else left.finding.words,
            "reason": left.get_reason_display(),
            "by": left.decided_by,
            "on": _on(left.decided_at),
            "consequence": left.consequence,
            "later": _later(left.can_wait, money(left.price_later, sign)),
            # Offered in a change order or an option, and not wanted: found, but declined.
            "declined": left.answer_id is not None or left.reason == Finding.Reason.WISH,
        }
        for left in left_as_found(piano)
    ]


def _later(can_wait: bool, price: str) -> str:
    if not can_wait:
        return "It cannot well be done later."
    return f"It can be done later, for about {price}." if price else "It can be done later."


def _cautions(codes: list[str]) -> list[dict[str, str]]:
    found = Caution.objects.in_bulk(codes, field_name="code")
    return [{"title": found[code].title, "text": found[code].text} for code in codes if code in found]


def _names(piano: Instrument) -> list[list[str]]:
    """Who had hands on it, each with the departments they did it in, in the order of the work."""
    moves = Move.objects.filter(
        task__instrument=piano, task__dropped_at=None, origin__kind=Stage.Kind.BENCHED, undoes=None
    )
    told: dict[str, dict[str, None]] = defaultdict(dict)
    rows = moves.filter(undone_by=None).order_by("pk").values_list("by__name", "task__department__name")
    for name, department in rows:
        told[name][department] = None
    return [[name, ", ".join(departments)] for name, departments in told.items()]


def _on(moment: Any) -> str:
    return day_in_words(timezone.localdate(moment)) if moment else ""
