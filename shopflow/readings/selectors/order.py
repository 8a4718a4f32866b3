"""The order of a bass set: every wound string of a scale, with what its maker needs to know."""

from __future__ import annotations

from dataclasses import dataclass

from shopflow.catalogue.models import Units
from shopflow.readings.models import ScaleNote, StringScale
from shopflow.readings.note_names import note_name
from shopflow.readings.wires import DIAMETER, said_length, said_size


@dataclass(frozen=True, slots=True)
class OrderLine:
    row: ScaleNote
    cells: list[str]


@dataclass(frozen=True, slots=True)
class Order:
    """What is ordered; makers are not told the owner, nor anything of the price."""

    scale: StringScale
    heads: list[str]
    lines: list[OrderLine]
    notes: list[str]

    @property
    def strings(self) -> int:
        return sum(line.row.strings for line in self.lines)

    @property
    def count_words(self) -> str:
        return f"{self.strings} strings on {len(self.lines)} notes"


def order_of(scale: StringScale, units: str) -> Order:
    """The wound strings of this scale from the bass upward. One query."""
    unit = "in" if units == Units.INCH else "mm"
    heads = [
        "note", "", "strings", "core size", f"core, {unit}", f"winding, {unit}", f"over all, {unit}",
        f"speaking, {unit}", f"hitch to pin, {unit}", "ends",
    ]  # fmt: skip
    rows = [row for row in scale.notes.all() if row.is_wound]
    lines = [OrderLine(row, _cells(row, units)) for row in rows]
    return Order(scale, heads, lines, _notes(scale, rows))


def _cells(row: ScaleNote, units: str) -> list[str]:
    winding = ((row.cover_mm or 0) - row.wire_mm) / 2
    return [
        str(row.note),
        note_name(row.note),
        str(row.strings),
        said_size(row.wire_size) if row.wire_size is not None else "–",
        _thick(row.wire_mm, units),
        _thick(winding, units),
        _thick(row.cover_mm or 0, units),
        said_length(row.length_mm, units),
        said_length(row.overall_mm, units) if row.overall_mm is not None else "by sample",
        "loop" if row.ends == ScaleNote.Ends.LOOP else "round the pin",
    ]


def _thick(mm: float, units: str) -> str:
    return DIAMETER.written(mm, units).split()[0]


def _notes(scale: StringScale, rows: list[ScaleNote]) -> list[str]:
    notes = [f"Core sizes are music wire sizes, {scale.get_gauge_display()}."]
    notes.append("“Winding” is the covering wire, one layer; “over all” is the finished string.")
    if any(row.overall_mm is None for row in rows):
        notes.append("“By sample”: from hitch pin to tuning pin as on the old string sent along.")
    notes.append("Loops as on the samples. Number every string by its note.")
    return notes
