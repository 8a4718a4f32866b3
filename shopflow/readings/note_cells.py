"""One note of a scale as cells: from a form, a table or a file into a draft that can be kept."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import asdict, dataclass, field
from typing import Any

from shopflow.catalogue.models import Units
from shopflow.common.text import clean, on_one_line

from .measures import LENGTH, NotAMeasure, read_measure, read_number
from .models import ScaleNote
from .wires import DIAMETER, Wire, exact, read_wire, said_size

LONGEST_SECTION = 20
_ENDS = {"loop": ScaleNote.Ends.LOOP, "round": ScaleNote.Ends.ROUND, "": ""}


@dataclass(frozen=True, slots=True)
class NoteDraft:
    """The strings of one note, read and in range."""

    note: int
    section: str
    strings: int
    length_mm: float
    wire_mm: float
    wire_size: float | None
    cover_mm: float | None
    ends: str
    overall_mm: float | None
    # As it was written, with its units: evidence, and no part of what tells two versions apart.
    typed: str = field(default="", compare=False)

    def facts(self) -> dict[str, Any]:
        return {name: value for name, value in asdict(self).items() if name != "typed"}


@dataclass(frozen=True, slots=True)
class Fault:
    """One cell that cannot be kept as it is."""

    column: str
    given: str
    allowed: str


class CellsRefused(ValueError):
    def __init__(self, faults: list[Fault]) -> None:
        self.faults = faults
        super().__init__("; ".join(f"{each.column}: {each.allowed}" for each in faults))


def draft_of(row: ScaleNote) -> NoteDraft:
    return NoteDraft(*(getattr(row, name) for name in NoteDraft.__slots__))


def facts_of(row: ScaleNote | None) -> dict[str, Any]:
    """What stands of a note, for telling versions apart; nothing where there is none."""
    return draft_of(row).facts() if row else {}


def read_cells(cells: Mapping[str, str], *, gauge: str, units: str = Units.METRIC) -> NoteDraft:
    """The draft in these cells, or CellsRefused with every faulty one."""
    reader = _Reader(cells, gauge, units)
    values: dict[str, Any] = {
        "note": reader.take("note", reader.whole(1, 88), needed="a note from 1 to 88"),
        "section": reader.take("section", reader.section) or "",
        "strings": reader.take("strings", reader.whole(1, 4), needed="1 to 4 strings"),
        "length_mm": reader.take("length_mm", reader.length(20, 3000), needed="20 to 3000 mm"),
        "cover_mm": reader.take("cover_mm", reader.cover),
        "ends": reader.take("ends", reader.ends) or "",
        "overall_mm": reader.take("overall_mm", reader.length(40, 4000)),
    }
    wire = reader.take("wire", reader.wire, needed="a size such as 16½, or a diameter from 0.3 to 3 mm")
    reader.together(values, wire)
    if reader.faults or wire is None:
        raise CellsRefused(reader.faults)
    values["ends"] = values["ends"] or _usual_ends(values["cover_mm"])
    return NoteDraft(wire_mm=wire.mm, wire_size=wire.size, typed=reader.as_typed(), **values)


def _usual_ends(cover_mm: float | None) -> str:
    return ScaleNote.Ends.ROUND if cover_mm is None else ScaleNote.Ends.LOOP


class _Reader:
    """Reads cell after cell and remembers what was wrong with which."""

    def __init__(self, cells: Mapping[str, str], gauge: str, units: str) -> None:
        self.cells, self.gauge, self.units = cells, gauge, units
        self.faults: list[Fault] = []

    def given(self, column: str) -> str:
        return on_one_line(clean(self.cells.get(column, "") or ""))

    def as_typed(self) -> str:
        """What was written for the string itself, in the units of whoever wrote it."""
        unit = LENGTH.unit(self.units).name
        cells = {name: self.given(name) for name in ("length_mm", "wire", "cover_mm", "overall_mm")}
        bare = {name for name, cell in cells.items() if name != "wire" and cell[-1:].isdigit()}
        words = [f"{cell} {unit}" if name in bare else cell for name, cell in cells.items() if cell]
        return " · ".join(words)[:120]

    def take(self, column: str, read: Callable[[str], Any], *, needed: str = "") -> Any:
        """What stands in a cell; None, with a fault, where it cannot be read or is missing."""
        typed = self.given(column)
        if not typed:
            if needed:
                self.faults.append(Fault(column, "nothing", needed))
            return None
        try:
            return read(typed)
        except NotAMeasure as why:
            self.faults.append(Fault(column, typed[:40], str(why)))
            return None

    def whole(self, least: int, most: int) -> Callable[[str], int]:
        def read(typed: str) -> int:
            value = read_number(typed)
            if value != int(value) or not least <= value <= most:
                raise NotAMeasure(f"Got “{typed[:20]}”; allowed is a whole number from {least} to {most}.")
            return int(value)

        return read

    def length(self, least: float, most: float) -> Callable[[str], float]:
        def read(typed: str) -> float:
            mm = round(read_measure(typed, LENGTH, self.units).value, 4)
            if not least <= mm <= most:
                raise NotAMeasure(f"Got “{typed[:20]}”; allowed is {least:g} to {most:g} mm.")
            return mm

        return read

    def wire(self, typed: str) -> Wire:
        return read_wire(typed, gauge=self.gauge, units=self.units)

    def cover(self, typed: str) -> float:
        mm = round(read_measure(typed, DIAMETER, self.units).value, 4)
        if not 0.4 <= mm <= 12:
            raise NotAMeasure(f"Got “{typed[:20]}”; allowed is 0.4 to 12 mm over the winding.")
        return mm

    def section(self, typed: str) -> str:
        if len(typed) > LONGEST_SECTION:
            raise NotAMeasure(f"{len(typed)} letters; allowed are {LONGEST_SECTION}.")
        return typed

    def ends(self, typed: str) -> str:
        if typed.casefold() not in _ENDS:
            raise NotAMeasure(f"Got “{typed[:20]}”; allowed is loop or round.")
        return _ENDS[typed.casefold()]

    def together(self, values: Mapping[str, Any], wire: Wire | None) -> None:
        """What each cell allows may still not fit its neighbour."""
        cover, overall, length = values["cover_mm"], values["overall_mm"], values["length_mm"]
        if wire and cover is not None and cover <= wire.mm:
            allowed = f"Over the winding it must be thicker than the core of {exact(wire.mm)} mm."
            self.faults.append(Fault("cover_mm", self.given("cover_mm"), allowed))
        if overall is not None and length is not None and overall <= length:
            allowed = f"Hitch pin to tuning pin is longer than the speaking length of {exact(length)} mm."
            self.faults.append(Fault("overall_mm", self.given("overall_mm"), allowed))


def cells_of(draft: NoteDraft) -> dict[str, str]:
    """The cells that `read_cells` reads back to the same draft, in millimetres."""
    wire = f"{draft.wire_size:g}" if draft.wire_size is not None else f"{exact(draft.wire_mm)} mm"
    return {
        "note": str(draft.note),
        "section": draft.section,
        "strings": str(draft.strings),
        "length_mm": exact(draft.length_mm),
        "wire": wire,
        "cover_mm": exact(draft.cover_mm),
        "ends": draft.ends,
        "overall_mm": exact(draft.overall_mm),
    }


def shown_cells(draft: NoteDraft, units: str) -> dict[str, str]:
    """The same cells as this shop types them into a form."""
    if units != Units.INCH:
        return cells_of(draft) | _shown_wire(draft)
    inches = {
        name: "" if value is None else f"{value / 25.4:.5f}".rstrip("0").rstrip(".")
        for name, value in (
            ("length_mm", draft.length_mm), ("cover_mm", draft.cover_mm), ("overall_mm", draft.overall_mm)
        )
    }  # fmt: skip
    return cells_of(draft) | inches | _shown_wire(draft)


def _shown_wire(draft: NoteDraft) -> dict[str, str]:
    return {"wire": said_size(draft.wire_size)} if draft.wire_size is not None else {}
