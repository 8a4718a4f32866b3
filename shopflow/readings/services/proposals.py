"""Proposals: what could go on instead of what was found, by the smoothest run or a chosen pull."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from itertools import pairwise

from django.db import transaction

from shopflow.common.refusals import Refused
from shopflow.compute.errors import ComputeError
from shopflow.compute.strings import propose_plain_wires, propose_wound_set
from shopflow.people.models import Person
from shopflow.readings.models import StringScale
from shopflow.readings.note_cells import NoteDraft, draft_of
from shopflow.readings.wires import sizes_of

from . import scale as scales


@dataclass(frozen=True, slots=True)
class Wishes:
    """What a proposal is asked for. A pull of None leaves those strings as they are."""

    plain_pull_n: float | None
    highest_share: float
    smoothness: float
    whole_sizes: bool
    low_pull_n: float | None
    break_pull_n: float | None
    highest_core_share: float
    wrap_step_mm: float


@transaction.atomic
def propose(*, base: StringScale, wishes: Wishes, name: str, by: Person) -> StringScale:
    """A proposed scale beside this one: same notes and lengths, other wires."""
    drafts = [draft_of(row) for row in base.notes.all()]
    fresh = rewired(base, drafts, wishes)
    facts = {each: getattr(base, each) for each in scales.FACTS} | {
        "kind": StringScale.Kind.PROPOSED,
        "name": name,
    }
    made = scales.start_scale(instrument=base.instrument, by=by, facts=facts, copy_of=base)
    return scales.put_table(scale=made, drafts=fresh, seen_version=made.version, by=by)


def rewired(base: StringScale, drafts: Sequence[NoteDraft], wishes: Wishes) -> list[NoteDraft]:
    """The same notes with the wires that fit the wishes best; refused in words where none can."""
    plain = [draft for draft in drafts if draft.cover_mm is None]
    wound = [draft for draft in drafts if draft.cover_mm is not None]
    if not (plain and wishes.plain_pull_n) and not (wound and wishes.low_pull_n):
        raise Refused("There is nothing to propose: say a pull for the plain or the wound strings.")
    fresh = {draft.note: draft for draft in drafts}
    try:
        if plain and wishes.plain_pull_n:
            fresh |= _plain(base, plain, wishes)
        if wound and wishes.low_pull_n:
            fresh |= _wound(base, wound, wishes)
    except ComputeError as cannot:
        what = cannot.field.replace("_", " ").removesuffix(" mm").removesuffix(" n")
        raise Refused(f"No wire does that ({what}, {cannot.given}). Needed is {cannot.allowed}.") from cannot
    return list(fresh.values())


def _sizes(base: StringScale, wishes: Wishes) -> dict[float, float]:
    sizes = sizes_of(base.gauge)
    return {size: mm for size, mm in sizes.items() if size == int(size)} if wishes.whole_sizes else sizes


def section_starts(drafts: Sequence[NoteDraft]) -> list[int]:
    """The first note of each section but the first, and of each stretch after missing notes."""
    return [
        high.note
        for low, high in pairwise(drafts)
        if low.section != high.section or high.note != low.note + 1
    ]


def _plain(base: StringScale, drafts: list[NoteDraft], wishes: Wishes) -> dict[int, NoteDraft]:
    proposal = propose_plain_wires(
        {draft.note: draft.length_mm for draft in drafts},
        wanted_tension_n=wishes.plain_pull_n or 0,
        sizes_mm=_sizes(base, wishes),
        highest_share=wishes.highest_share,
        smoothness=wishes.smoothness,
        strength_mpa=base.strength_mpa,
        figure=base.figure,
        a4_hz=base.a4_hz,
        breaks=section_starts(drafts),
    )
    by_note = {draft.note: draft for draft in drafts}
    return {
        each.note: replace(by_note[each.note], wire_mm=each.diameter_mm, wire_size=each.size, typed="")
        for each in proposal.strings
    }


def _wound(base: StringScale, drafts: list[NoteDraft], wishes: Wishes) -> dict[int, NoteDraft]:
    low, high = drafts[0].note, drafts[-1].note
    first = wishes.low_pull_n or 0
    last = wishes.break_pull_n or first
    pulls = {draft.note: first + (last - first) * (draft.note - low) / max(1, high - low) for draft in drafts}
    proposal = propose_wound_set(
        {draft.note: draft.length_mm for draft in drafts},
        pulls,
        cores_mm=_sizes(base, wishes),
        highest_share=wishes.highest_core_share,
        wrap_step_mm=wishes.wrap_step_mm,
        strength_mpa=base.strength_mpa,
        figure=base.figure,
        a4_hz=base.a4_hz,
    )
    by_note = {draft.note: draft for draft in drafts}
    return {
        each.note: replace(
            by_note[each.note],
            wire_mm=each.core_mm,
            wire_size=each.core_size,
            cover_mm=round(each.outside_mm, 4),
            typed="",
        )
        for each in proposal
    }
