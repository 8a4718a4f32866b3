"""The report with which an instrument goes home: begun, written, checked by a second person, handed over."""

from __future__ import annotations

from collections.abc import Mapping

from django.db import transaction
from django.db.models import Max

from shopflow.common import clock
from shopflow.common.refusals import Refused
from shopflow.instruments.models import Instrument
from shopflow.instruments.services.safety import refuse_unanswered
from shopflow.offers.aftercare import old_parts_words, untrue_old_parts
from shopflow.offers.frozen import fingerprint_of
from shopflow.offers.handover_words import checks_for
from shopflow.offers.models import Handover
from shopflow.offers.selectors.fates import fate_of_findings
from shopflow.offers.selectors.handovers import (
    being_written,
    last_at_it,
    missing_for,
    not_clear,
    old_parts_are_untrue,
)
from shopflow.offers.selectors.materials import materials_of
from shopflow.offers.selectors.proved import proved
from shopflow.offers.selectors.report import report_of
from shopflow.offers.selectors.terms import the_terms
from shopflow.people import access
from shopflow.people.access import Deed
from shopflow.people.models import Person
from shopflow.workshop.services import passages

from .evidence import lines_of_this_work, refuse_ticks
from .mended import note_what_is_mended

TEXTS = ("words", "materials", "old_parts", "care", "tunings", "warranty")


class ChangedMeanwhile(Refused):
    """Somebody else saved this report since the page was opened. Answered with 409."""

    status = 409

    def __init__(self, handover: Handover) -> None:
        super().__init__(
            "Someone else changed this report meanwhile. Nothing of yours was saved yet: look at what stands"
            " there now, then save yours once more or leave it."
        )
        self.handover = handover


@transaction.atomic
def begin(*, instrument: Instrument, by: Person) -> Handover:
    """Begin the report, filled in as far as the shop knows; one that is being written is kept."""
    access.require(by, Deed.HAND_OVER)
    instrument = Instrument.objects.select_for_update().get(pk=instrument.pk)
    there = being_written(instrument)
    if there is not None:
        return there
    # One that went home without a report may be given one afterwards.
    if instrument.arrived_on is None:
        raise Refused(f"{instrument} has not come into the house yet.")
    note_what_is_mended(instrument)
    terms, proof = the_terms(), proved(instrument).proof
    last = Handover.objects.filter(instrument=instrument).aggregate(last=Max("number"))["last"]
    return Handover.objects.create(
        instrument=instrument,
        number=(last or 0) + 1,
        checks=_fresh_checks(instrument, {}),
        materials=materials_of(instrument, proof),
        old_parts=old_parts_words(proof.renewed),
        care=terms.care,
        warranty=terms.warranty,
        made_at=clock.now(),
    )


@transaction.atomic
def write(*, handover: Handover, seen_edition: int, texts: Mapping[str, str], by: Person) -> Handover:
    """Save the words of the report. A signed check stays: it is of the piano and not of the words."""
    access.require(by, Deed.HAND_OVER)
    handover = _locked(handover)
    if all(getattr(handover, name) == texts[name] for name in TEXTS):
        return handover
    if handover.edition != seen_edition:
        raise ChangedMeanwhile(handover)
    _refuse_untrue_old_parts(handover.instrument, texts["old_parts"])
    for name in TEXTS:
        setattr(handover, name, texts[name])
    handover.edition += 1
    handover.clean_fields(exclude={field.name for field in Handover._meta.fields} - {*TEXTS})
    handover.save(update_fields=[*TEXTS, "edition"])
    return handover


@transaction.atomic
def check(
    *, handover: Handover, verdicts: Mapping[str, Mapping[str, str]], by: Person, sign: bool = False
) -> Handover:
    """Fill in the final check list and, with every line clear, sign it: not by who did the last work.

    Whoever changes a line after it was signed takes the signature away.
    """
    access.require(by, Deed.WORK_AT_BENCH)
    handover = _locked(handover)
    note_what_is_mended(handover.instrument)
    before = handover.checks
    said = _said(before) | dict(verdicts)
    refuse_ticks(handover.instrument, said, by=by)
    handover.checks = _fresh_checks(handover.instrument, said)
    if handover.checks != before:
        handover.checked_by, handover.checked_at = None, None
    if sign and handover.checked_by is None:
        _refuse_signing(handover, by)
        refuse_unanswered(handover.instrument, before="Unsafe, so the final check cannot be signed")
        handover.checked_by, handover.checked_at = by, clock.now()
    handover.save(update_fields=["checks", "checked_by", "checked_at"])
    return handover


@transaction.atomic
def hand_over(*, handover: Handover, received_by: str, seen: str, by: Person) -> Handover:
    """Freeze the report as it was previewed (`seen` is its print) and write who took it over."""
    access.require(by, Deed.HAND_OVER)
    handover = (
        Handover.objects.select_for_update(of=("self",)).select_related("instrument").get(pk=handover.pk)
    )
    if handover.handed_over_at is not None:
        if handover.received_by == received_by.strip():
            return handover
        raise Refused(f"It was handed over already, to {handover.received_by}. Nothing was changed.")
    note_what_is_mended(handover.instrument)
    missing = missing_for(handover)
    if missing:
        raise Refused(" ".join(missing))
    if not received_by.strip():
        raise Refused("Say who took it over.", field="received_by")
    report = report_of(handover)
    if fingerprint_of(report) != seen:
        raise Refused("Something in the report changed since you looked at it. Look once more.", field=None)
    handover.frozen, handover.fingerprint = report, fingerprint_of(report)
    handover.handed_over_at, handover.handed_over_by = clock.now(), by
    handover.customer = handover.instrument.customer
    handover.received_by = received_by.strip()[:80]
    handover.save()
    passages.hand_over(instrument=handover.instrument, by=by)
    return handover


def _locked(handover: Handover) -> Handover:
    rows = Handover.objects.select_for_update(of=("self",)).select_related("instrument", "checked_by")
    handover = rows.get(pk=handover.pk)
    if handover.handed_over_at is not None:
        raise Refused("This report was handed over; it stays as it is.")
    return handover


def _refuse_untrue_old_parts(instrument: Instrument, words: str) -> None:
    untrue = untrue_old_parts(words, proved(instrument).proof)
    if untrue:
        raise Refused(old_parts_are_untrue(untrue), field="old_parts")


def _said(checks: list[dict[str, str]]) -> dict[str, Mapping[str, str]]:
    return {line["code"]: {"state": line["state"], "note": line["note"]} for line in checks}


def _fresh_checks(instrument: Instrument, said: Mapping[str, Mapping[str, str]]) -> list[dict[str, str]]:
    """The list as the findings stand now, with what was said of each line kept."""
    fate = fate_of_findings(instrument)
    blank: Mapping[str, str] = {"state": "", "note": ""}
    return [
        {
            "code": line.code,
            "words": line.words,
            "state": said.get(line.code, blank).get("state", ""),
            "note": said.get(line.code, blank).get("note", ""),
        }
        for line in [*checks_for(fate.mended, fate.left), *lines_of_this_work(instrument)]
    ]


def _refuse_signing(handover: Handover, by: Person) -> None:
    open_lines = not_clear(handover)
    if open_lines:
        told = "; ".join(open_lines[:4]) + ("; …" if len(open_lines) > 4 else "")
        raise Refused(f"Not every line is clear: {told}. A line that does not apply may say so.")
    if last_at_it(handover.instrument) == by.pk:
        raise Refused(
            f"{by.name} did the last work on it. The final check asks for a second pair of eyes:"
            " somebody else signs."
        )
