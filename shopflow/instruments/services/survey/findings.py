"""Findings of an open survey: added once, corrected, struck and put back."""

from __future__ import annotations

from collections.abc import Mapping
from decimal import Decimal
from typing import Any

from django.db import transaction
from django.db.models import Max, QuerySet

from shopflow.catalogue.models import ComponentGroup, FindingKind
from shopflow.common import clock
from shopflow.common.refusals import Refused
from shopflow.people import access, edits
from shopflow.people.access import Deed
from shopflow.people.models import Person

from ...models import Finding, GroupLook, Survey
from .drafts import let_go
from .open import hold_open

# What may be corrected while its survey is open.
FACTS = ("name", "words", "severity", "extent", "extent_unit", "confidence")
Facts = dict[str, Any]


@transaction.atomic
def add_finding(
    *,
    survey: Survey,
    group: ComponentGroup,
    severity: int,
    by: Person,
    kind: FindingKind | None = None,
    name: str = "",
    words: str = "",
    extent: Decimal | None = None,
    extent_unit: str = "",
    confidence: str = Finding.Confidence.SEEN,
    key: str = "",
    draft: str = "",
) -> Finding:
    """Write down a finding, from the library or in own words. The same `key` again is the same finding.

    `draft` names the half-done form that this saves.
    """
    access.require(by, Deed.SURVEY)
    survey = hold_open(survey.pk)
    _check_kind(kind, group, survey.instrument.kind)
    finding = Finding(
        survey=survey,
        instrument=survey.instrument,
        group=group,
        kind=kind,
        name=kind.name if kind else name,
        words=words,
        severity=severity,
        extent=extent,
        extent_unit=extent_unit,
        confidence=confidence,
        by=by,
        at=clock.now(),
        key=key,
    )
    there = survey.findings.filter(key=key).first() if key else None
    if there is not None:
        return _sent_again(there, finding)
    save_new(finding)
    let_go(survey.instrument_id, draft, by)
    return finding


@transaction.atomic
def change_finding(
    *, finding: Finding, facts: Mapping[str, Any], seen: str, by: Person, draft: str = ""
) -> Finding:
    """Correct a finding while its survey is open, if nobody else did so since it was seen."""
    access.require(by, Deed.SURVEY)
    hold_open(finding.survey_id)
    kept = Finding.objects.select_for_update(of=("self",)).get(pk=finding.pk)
    if kept.taken_back_at is not None:
        raise Refused("This finding was taken back. Put it back first.")
    wanted = facts_of(kept) | _plain({name: facts[name] for name in FACTS if name in facts})
    edits.refuse_stale(now=facts_of(kept), wanted=wanted, seen=seen)
    for name in FACTS:
        if name in facts and not (name == "name" and kept.kind_id):
            setattr(kept, name, facts[name])
    kept.full_clean(validate_unique=False, validate_constraints=False)
    kept.save(update_fields=FACTS)
    let_go(kept.instrument_id, draft, by)
    return kept


@transaction.atomic
def take_back(*, finding: Finding, by: Person) -> Finding:
    """Strike a finding: it stays in the records, and counts no more."""
    return _strike(finding, by, struck=True)


@transaction.atomic
def put_back(*, finding: Finding, by: Person) -> Finding:
    return _strike(finding, by, struck=False)


def _strike(finding: Finding, by: Person, *, struck: bool) -> Finding:
    access.require(by, Deed.SURVEY)
    survey = hold_open(finding.survey_id)
    kept = Finding.objects.select_for_update(of=("self",)).get(pk=finding.pk)
    if struck == (kept.taken_back_at is not None):
        return kept
    kept.taken_back_at = clock.now() if struck else None
    kept.save(update_fields=["taken_back_at"])
    withdraw_where_not_so(kept)
    suit_look(survey, kept.group_id)
    return kept


def save_new(finding: Finding) -> None:
    """Give it the instrument's next number, and let the word about its group agree with it."""
    last = finding.instrument.findings.aggregate(last=Max("number"))["last"]
    finding.number = (last or 0) + 1
    finding.full_clean(validate_unique=False, validate_constraints=False)
    finding.save()
    suit_look(finding.survey, finding.group_id)


def suit_look(survey: Survey, group_id: int) -> None:
    """A group called good in which something is found now has findings; and the other way round."""
    look = survey.looks.filter(group_id=group_id).first()
    if look is None:
        return
    any_left = standing_in(survey, group_id).exists()
    suits = {
        (GroupLook.Word.GOOD, True): GroupLook.Word.FOUND,
        (GroupLook.Word.NOT, True): GroupLook.Word.PARTLY,
        (GroupLook.Word.FOUND, False): GroupLook.Word.GOOD,
    }
    word = suits.get((GroupLook.Word(look.word), any_left))
    if word is not None:
        look.word = word
        look.save(update_fields=["word"])


def standing_in(survey: Survey, group_id: int) -> QuerySet[Finding]:
    """What this survey found in a group: not what was taken back, nor what turned out to be not so."""
    rows = survey.findings.filter(group_id=group_id, taken_back_at=None)
    return rows.exclude(verdict=Finding.Verdict.NOT_SO)


def withdraw_where_not_so(word: Finding) -> None:
    """An earlier finding that is "not so after all" is withdrawn, and open again when that is taken back.

    Work that was agreed on stays agreed: its state is for offers to change.
    """
    if word.about_id is None:
        return
    not_so = word.verdict == Finding.Verdict.NOT_SO and word.taken_back_at is None
    was, becomes = Finding.State.OPEN, Finding.State.WITHDRAWN
    if not not_so:
        was, becomes = becomes, was
    Finding.objects.filter(pk=word.about_id, state=was).update(state=becomes)


def facts_of(finding: Finding) -> Facts:
    """What a form shows and what its mark is made of."""
    return _plain({name: getattr(finding, name) for name in FACTS})


def _plain(facts: Mapping[str, Any]) -> Facts:
    return {
        name: f"{fact.normalize():f}" if isinstance(fact, Decimal) else "" if fact is None else str(fact)
        for name, fact in facts.items()
    }


def _check_kind(kind: FindingKind | None, group: ComponentGroup, build: str) -> None:
    if kind is None:
        return
    if kind.group_id != group.pk:
        raise Refused(f"“{kind.name}” belongs to another part of the instrument.", field="kind")
    if kind.only_for and kind.only_for != build:
        raise Refused(f"“{kind.name}” is found in {kind.get_only_for_display()}s only.", field="kind")


def _sent_again(there: Finding, finding: Finding) -> Finding:
    same = facts_of(there) == facts_of(finding) and there.kind_id == finding.kind_id
    if same and there.group_id == finding.group_id:
        return there
    raise Refused(
        f"This form was saved already, as finding {there.number}. Correct that one, or begin a new one."
    )
