"""Scales: begun, filled note by note or as a whole table, changed, thrown away."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from typing import Any

from django.db import transaction
from django.db.models import F

from shopflow.catalogue.models import SheetKind
from shopflow.common import clock
from shopflow.common.refusals import Refused
from shopflow.compute.errors import ComputeError
from shopflow.compute.strings import ScaleFigures, ScaleString, scale_figures
from shopflow.instruments.models import Instrument
from shopflow.people.edits import ChangedMeanwhile, refuse_stale
from shopflow.people.models import Person
from shopflow.readings.benches import require_write
from shopflow.readings.models import ScaleNote, StringScale
from shopflow.readings.note_cells import NoteDraft, draft_of, facts_of

from .evidence import note_that_it_was_read

FACTS = ("kind", "name", "a4_hz", "figure", "strength_mpa", "gauge")


class TableChanged(ChangedMeanwhile):
    """Somebody else saved this scale while the table was filled in."""


@transaction.atomic
def start_scale(
    *, instrument: Instrument, by: Person, facts: dict[str, Any], copy_of: StringScale | None = None
) -> StringScale:
    """Begin a scale of this instrument, empty or with the notes of another one of it."""
    require_write(by, SheetKind.STRINGS)
    if copy_of is not None and copy_of.instrument_id != instrument.pk:
        raise Refused("That scale belongs to another instrument.")
    scale = StringScale(instrument=instrument, by=by, based_on=copy_of, **facts)
    scale.full_clean(exclude=["instrument", "by", "based_on"])
    scale.save()
    if copy_of is not None:
        _write(scale, [draft_of(row) for row in copy_of.notes.all()], by=by)
    return scale


@transaction.atomic
def change_scale(*, scale: StringScale, facts: dict[str, Any], seen_version: int, by: Person) -> StringScale:
    """Change what the scale is, and by which pitch and strength it is reckoned."""
    require_write(by, SheetKind.STRINGS)
    locked = _locked(scale)
    now = {name: getattr(locked, name) for name in FACTS}
    if locked.version != seen_version and now != facts:
        raise ChangedMeanwhile(now, facts)
    for name, value in facts.items():
        setattr(locked, name, value)
    locked.full_clean(exclude=["instrument", "by", "based_on"])
    reckoned(locked, locked.notes.all())
    locked.version, locked.changed_at = F("version") + 1, clock.now()
    locked.save()
    locked.refresh_from_db()
    return locked


@transaction.atomic
def put_note(
    *, scale: StringScale, draft: NoteDraft, seen: str, by: Person, measured_again: bool = False
) -> ScaleNote:
    """Keep the strings of one note; the same again changes nothing."""
    require_write(by, SheetKind.STRINGS)
    locked = _locked(scale)
    row = locked.notes.filter(note=draft.note).first()
    refuse_stale(now=facts_of(row), wanted=draft.facts(), seen=seen)
    if row is not None and facts_of(row) == draft.facts():
        return row
    made = row or ScaleNote(scale=locked, note=draft.note)
    for name, value in draft.facts().items():
        setattr(made, name, value)
    made.typed = draft.typed
    made.by, made.at, made.measured_again = by, clock.now(), measured_again
    reckoned(locked, [made])
    made.clean_fields(exclude=["scale", "by"])
    made.save()
    _touch(locked)
    _count_as_read(locked)
    return made


@transaction.atomic
def take_note_off(*, scale: StringScale, note: int, seen: str, by: Person) -> None:
    """Take one note out of the scale again."""
    require_write(by, SheetKind.STRINGS)
    locked = _locked(scale)
    row = locked.notes.filter(note=note).first()
    if row is None:
        return
    refuse_stale(now=facts_of(row), wanted={}, seen=seen)
    row.delete()
    _touch(locked)


@transaction.atomic
def put_table(
    *, scale: StringScale, drafts: Sequence[NoteDraft], seen_version: int, by: Person
) -> StringScale:
    """Put a whole table in place of what stands: all of it, or nothing. Rows that stay keep who read them."""
    require_write(by, SheetKind.STRINGS)
    locked = _locked(scale)
    standing = {row.note: row for row in locked.notes.all()}
    wanted = {draft.note: draft for draft in drafts}
    if len(wanted) != len(drafts):
        raise Refused("A note stands twice in this table.")
    changed = [draft for note, draft in wanted.items() if facts_of(standing.get(note)) != draft.facts()]
    gone = [row.pk for note, row in standing.items() if note not in wanted or wanted[note] in changed]
    if not changed and not gone:
        return locked
    if locked.version != seen_version:
        raise TableChanged({"notes": len(standing)}, {"notes": len(wanted)})
    locked.notes.filter(pk__in=gone).delete()
    _write(locked, changed, by=by)
    _count_as_read(locked)
    return locked


@transaction.atomic
def drop_scale(*, scale: StringScale, by: Person) -> None:
    """Throw a proposal or an empty scale away; what was found or strung stays as evidence."""
    require_write(by, SheetKind.STRINGS)
    locked = _locked(scale)
    if locked.kind != StringScale.Kind.PROPOSED and locked.notes.exists():
        raise Refused("What was found or strung stays. Only proposals and empty scales are thrown away.")
    locked.delete()


def reckoned(scale: StringScale, rows: Iterable[NoteDraft | ScaleNote]) -> ScaleFigures | None:
    """The figures of these notes by the pitch and strength of the scale; refused where no sum can be."""
    strings = [string_of(row) for row in rows]
    if not strings:
        return None
    try:
        return scale_figures(strings, a4_hz=scale.a4_hz, strength_mpa=scale.strength_mpa, figure=scale.figure)
    except ComputeError as cannot:
        raise Refused(
            f"No string can be reckoned so: {cannot.field.replace('_', ' ')} {cannot.given}. "
            f"Allowed is {cannot.allowed}. Look at length, wire and note again."
        ) from cannot


def string_of(row: NoteDraft | ScaleNote) -> ScaleString:
    return ScaleString(row.note, row.strings, row.length_mm, row.wire_mm, row.cover_mm, row.section)


def _write(scale: StringScale, drafts: Iterable[NoteDraft], *, by: Person) -> None:
    signed = {"scale": scale, "by": by, "at": clock.now()}
    rows = [ScaleNote(typed=draft.typed, **signed, **draft.facts()) for draft in drafts]
    reckoned(scale, rows)
    for row in rows:
        row.clean_fields(exclude=["scale", "by"])
    ScaleNote.objects.bulk_create(rows)
    _touch(scale)


def _count_as_read(scale: StringScale) -> None:
    """A proposal is reckoned, not read."""
    if scale.kind != StringScale.Kind.PROPOSED:
        note_that_it_was_read(scale.instrument, SheetKind.STRINGS)


def _touch(scale: StringScale) -> None:
    StringScale.objects.filter(pk=scale.pk).update(version=F("version") + 1, changed_at=clock.now())
    scale.refresh_from_db()


def _locked(scale: StringScale) -> StringScale:
    return StringScale.objects.select_for_update().get(pk=scale.pk)
