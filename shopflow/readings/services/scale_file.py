"""A scale as a file: there and back. One wrong cell, and nothing of it comes in."""

from __future__ import annotations

import csv
import io
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, field

from shopflow.catalogue.models import Units
from shopflow.common.cells import guarded
from shopflow.readings.models import StringScale
from shopflow.readings.note_cells import CellsRefused, NoteDraft, cells_of, draft_of, read_cells
from shopflow.workshop.services.bringing.decoding import decoded
from shopflow.workshop.services.bringing.problems import SHOWN, Problem, Problems, Unreadable
from shopflow.workshop.services.bringing.reading import MOST_BYTES
from shopflow.workshop.services.bringing.splitting import SEPARATORS, Row, rows, told_separator

COLUMNS = ("note", "section", "strings", "length_mm", "wire", "cover_mm", "ends", "overall_mm")
NEEDED = ("note", "strings", "length_mm", "wire")
MOST_ROWS = 200
# Names by which a column may go besides its own; those that end in _in are read in inches.
_ALSO = {
    "key": "note", "length": "length_mm", "speaking length": "length_mm", "length in": "length_in",
    "speaking length in": "length_in", "speaking length mm": "length_mm", "size": "wire", "core": "wire",
    "wire size": "wire", "cover": "cover_mm", "over the winding": "cover_mm", "cover in": "cover_in",
    "outside": "cover_mm", "count": "strings", "strings per note": "strings", "hitch": "ends",
    "overall": "overall_mm", "overall in": "overall_in", "break": "section",
}  # fmt: skip
_INCHES = {"length_in": "length_mm", "cover_in": "cover_mm", "overall_in": "overall_mm"}
_HELP = {
    "note": "1 to 88, from the bass",
    "section": "bass, tenor, treble or the shop's own word; where it changes there is a break",
    "strings": "strings of this note, 1 to 4",
    "length_mm": "speaking length; “25 3/8 in” is understood, and a column length_in",
    "wire": "music wire size such as 16.5, or a diameter such as 0.94 mm; the core of a wound string",
    "cover_mm": "over the winding; empty for plain wire",
    "ends": "loop, or round (one wire round the hitch pin makes two strings); empty takes the usual",
    "overall_mm": "hitch pin to tuning pin, for the order; may be empty",
}


@dataclass(frozen=True, slots=True)
class Table:
    """What a file would put in place of the scale, or what is wrong with it."""

    drafts: list[NoteDraft] = field(default_factory=list)
    problems: list[Problem] = field(default_factory=list)
    notes: list[str] = field(default_factory=list)

    @property
    def first_problems(self) -> list[Problem]:
        return self.problems[:SHOWN]

    @property
    def more_problems(self) -> int:
        return max(0, len(self.problems) - SHOWN)


def columns_help() -> list[tuple[str, str, bool]]:
    return [(name, _HELP[name], name in NEEDED) for name in COLUMNS]


def written(scale: StringScale) -> str:
    """The scale as CSV; `read` gives the same notes back."""
    out = io.StringIO(newline="")
    writer = csv.writer(out, lineterminator="\r\n")
    writer.writerow(COLUMNS)
    for row in scale.notes.all():
        cells = cells_of(draft_of(row))
        writer.writerow([guarded(cells[name]) for name in COLUMNS])
    return out.getvalue()


def read(data: bytes, *, gauge: str) -> Table:
    """Every note of a file, or every cell that stands in its way; Unreadable where it is no table at all."""
    if len(data) > MOST_BYTES:
        raise Unreadable(
            f"The file has {len(data) / 1e6:.1f} MB; allowed are {MOST_BYTES / 1e6:.0f} MB.", status=413
        )
    if data.startswith(b"PK\x03\x04"):
        raise Unreadable("This is a workbook. Save its sheet as CSV first.")
    text, note = decoded(data)
    told, rest = told_separator(text)
    separator = told or max(SEPARATORS, key=lambda each: _fit(rest, each))
    notes = [note] * bool(note)
    if separator != ",":
        notes.append(f"The cells are separated by {SEPARATORS[separator]}.")
    found = rows(rest, separator, first_line=2 if told else 1)
    return _table(found, gauge, notes)


def _fit(text: str, separator: str) -> tuple[int, int]:
    try:
        head = next((row for row in rows(text, separator) if not row.is_blank), None)
    except Unreadable:
        return (0, 0)
    return (sum(1 for cell in head.cells if _column(cell)), len(head.cells)) if head else (0, 0)


def _column(name: str) -> str:
    plain = " ".join(name.casefold().replace("_", " ").replace(",", " ").replace(".", " ").split())
    known = {each.replace("_", " "): each for each in (*COLUMNS, *_INCHES)}
    return known.get(plain) or _ALSO.get(plain, "")


def _table(found: Iterable[Row], gauge: str, notes: list[str]) -> Table:
    problems = Problems()
    kept: list[Row] = []
    head: Row | None = None
    for row in found:
        if row.is_blank:
            continue
        if head is None:
            head = row
        elif len(kept) == MOST_ROWS:
            raise Unreadable(
                f"The file has more than {MOST_ROWS} rows (line {row.line}); a piano has 88 notes.",
                status=413,
            )
        else:
            kept.append(row)
    if head is None:
        raise Unreadable("The file is empty.")
    columns = _columns(head, problems)
    if problems.found:
        return Table(problems=problems.in_order(), notes=notes)
    if not kept:
        raise Unreadable("Below the line of column names there is nothing.")
    drafts = _drafts(kept, columns, gauge, problems)
    return Table(drafts, problems.in_order(), notes)


def _columns(head: Row, problems: Problems) -> dict[str, int]:
    """Which column stands where; unknown, double and missing ones are named."""
    places: dict[str, int] = {}
    for place, cell in enumerate(head.cells):
        if not cell:
            continue
        name = _column(cell)
        if not name:
            problems.add(head.line, cell[:30], cell, "one of " + ", ".join(COLUMNS))
        elif name in places or _INCHES.get(name, "") in places or name in _twins(places):
            problems.add(head.line, name, cell, "each column once")
        else:
            places[name] = place
    there = {_INCHES.get(name, name) for name in places}
    for name in NEEDED:
        if name not in there:
            problems.add(head.line, name, "no such column", _HELP[name])
    return places


def _twins(places: Mapping[str, int]) -> set[str]:
    return {_INCHES[name] for name in places if name in _INCHES}


def _drafts(
    kept: Sequence[Row], columns: Mapping[str, int], gauge: str, problems: Problems
) -> list[NoteDraft]:
    drafts: dict[int, NoteDraft] = {}
    lines: dict[int, int] = {}
    for row in kept:
        if len(row.cells) > max(columns.values()) + 1 and any(row.cells[max(columns.values()) + 1 :]):
            extra = next(cell for cell in row.cells[max(columns.values()) + 1 :] if cell)
            problems.add(row.line, "beyond the last", extra, "no more cells than the first line names")
        try:
            draft = read_cells(_cells(row, columns), gauge=gauge, units=Units.METRIC)
        except CellsRefused as refused:
            for fault in refused.faults:
                problems.add(row.line, fault.column, fault.given, fault.allowed)
            continue
        if draft.note in drafts:
            problems.add(
                row.line, "note", str(draft.note), f"each note once; it stands on line {lines[draft.note]}"
            )
        drafts[draft.note], lines[draft.note] = draft, lines.get(draft.note, row.line)
    return [drafts[note] for note in sorted(drafts)]


def _cells(row: Row, columns: Mapping[str, int]) -> dict[str, str]:
    """The cells of a row by column; figures of an inch column get their unit written to them."""
    cells = {}
    for name, place in columns.items():
        cell = row.cells[place] if place < len(row.cells) else ""
        if name in _INCHES and cell and not any(letter.isalpha() or letter == '"' for letter in cell):
            cell = f"{cell} in"
        cells[_INCHES.get(name, name)] = cell
    return cells
