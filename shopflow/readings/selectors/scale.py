"""Questions about scales: which there are, and one of them reckoned through."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from itertools import pairwise

from django.db.models import Count, QuerySet
from django.http import Http404

from shopflow.catalogue.models import Shop, Units
from shopflow.common.refusals import Refused
from shopflow.compute.strings import Break, NoteFigures, ScaleFigures, kg_of, lb_of
from shopflow.instruments.models import Instrument
from shopflow.readings.models import ScaleNote, StringScale
from shopflow.readings.note_names import note_name
from shopflow.readings.services.scale import reckoned
from shopflow.readings.wires import DIAMETER, said_length, said_wire


def units_of_the_shop() -> str:
    return Shop.objects.values_list("units", flat=True).first() or Units.METRIC


def scales_of(instrument: Instrument) -> QuerySet[StringScale]:
    """The instrument's scales in the order in which they were begun, with how many notes each has."""
    scales = instrument.string_scales.select_related("by", "based_on")
    return scales.annotate(note_count=Count("notes")).order_by("pk")


def scale_or_404(instrument: Instrument, pk: int) -> StringScale:
    scale = instrument.string_scales.select_related("by", "based_on").filter(pk=pk).first()
    if scale is None:
        raise Http404("There is no such scale of this instrument.")
    scale.instrument = instrument
    return scale


@dataclass(frozen=True, slots=True)
class Line:
    """One note as the tables show it."""

    row: ScaleNote
    figures: NoteFigures
    units: str
    opens: str

    @property
    def name(self) -> str:
        return note_name(self.row.note)

    @property
    def length(self) -> str:
        return said_length(self.row.length_mm, self.units)

    @property
    def wire(self) -> str:
        return said_wire(self.row.wire_mm, self.row.wire_size, self.units)

    @property
    def wire_diameter(self) -> str:
        return DIAMETER.written(self.row.wire_mm, self.units)

    @property
    def cover(self) -> str:
        return DIAMETER.written(self.row.cover_mm, self.units) if self.row.cover_mm is not None else ""

    @property
    def share(self) -> str:
        share = self.figures.breaking_share
        return "–" if share is None else f"{share:.0%}"

    @property
    def stiffness(self) -> str:
        """B in ten-thousandths."""
        b = self.figures.inharmonicity
        return "–" if b is None else f"{b * 1e4:.2f}"

    @property
    def pull_lb(self) -> float:
        return lb_of(self.figures.tension_n)


@dataclass(frozen=True, slots=True)
class Sum:
    """What strings pull together, in the three units that a shop may think in."""

    name: str
    newtons: float

    @property
    def kg(self) -> float:
        return kg_of(self.newtons)

    @property
    def lb(self) -> float:
        return lb_of(self.newtons)


@dataclass(frozen=True, slots=True)
class Reckoned:
    """A scale with all its figures; `trouble` says why there are none."""

    scale: StringScale
    lines: Sequence[Line]
    figures: ScaleFigures | None
    units: str
    trouble: str = ""

    @property
    def is_empty(self) -> bool:
        return not self.lines

    @property
    def has_wound(self) -> bool:
        return any(line.row.is_wound for line in self.lines)

    @property
    def missing(self) -> list[tuple[int, int]]:
        """Stretches of notes that have no strings yet."""
        there = {line.row.note for line in self.lines}
        out: list[tuple[int, int]] = []
        for note in range(1, 89):
            if note in there:
                continue
            if out and out[-1][1] == note - 1:
                out[-1] = (out[-1][0], note)
            else:
                out.append((note, note))
        return out

    @property
    def first_missing(self) -> int:
        """Where entering goes on; at the first note when all are there."""
        return self.missing[0][0] if self.missing else 1

    @property
    def breaks(self) -> list[Break]:
        return self.figures.breaks if self.figures else []

    @property
    def total(self) -> Sum | None:
        return Sum("the whole scale", self.figures.loads.total_n) if self.figures else None

    @property
    def sections(self) -> list[Sum]:
        sums = self.figures.loads.by_section_n if self.figures else {}
        return [Sum(name or "no section named", newtons) for name, newtons in sums.items()]

    @property
    def strength_words(self) -> str:
        if self.scale.strength_mpa:
            return f"the maker's own figure, {self.scale.strength_mpa:g} MPa"
        return f"{self.scale.figure}, by thickness"


def reckon(scale: StringScale, units: str) -> Reckoned:
    """One query for the notes; the rest is arithmetic."""
    rows = list(scale.notes.all())
    try:
        figures = reckoned(scale, rows)
    except Refused as refused:
        return Reckoned(scale, [], None, units, refused.message)
    if figures is None:
        return Reckoned(scale, [], None, units)
    openings = _openings(rows)
    lines = [
        Line(row, each, units, openings.get(row.note, ""))
        for row, each in zip(rows, figures.notes, strict=True)
    ]
    return Reckoned(scale, lines, figures, units)


def latest_scale(instrument: Instrument) -> StringScale | None:
    """The scale that tells most of what the plate carries: as strung, else as found, else as proposed."""
    order = [StringScale.Kind.STRUNG, StringScale.Kind.FOUND, StringScale.Kind.PROPOSED]
    scales = [scale for scale in scales_of(instrument) if scale.note_count]  # type: ignore[attr-defined]
    return min(scales, key=lambda scale: (order.index(StringScale.Kind(scale.kind)), -scale.pk), default=None)


def latest_total_n(instrument: Instrument) -> float | None:
    """What all strings of the instrument pull together, where its scale says so."""
    scale = latest_scale(instrument)
    total = reckon(scale, Units.METRIC).total if scale else None
    return total.newtons if total else None


def _openings(rows: Sequence[ScaleNote]) -> dict[int, str]:
    """What begins at which note: a section, plain strings, or both."""
    out = {rows[0].note: rows[0].section}
    for low, high in pairwise(rows):
        words = [high.section] if high.section != low.section else []
        if high.is_wound != low.is_wound:
            words.append("wound" if high.is_wound else "plain")
        if high.strings != low.strings:
            words.append(f"{high.strings} strings a note" if high.strings > 1 else "one string a note")
        if words:
            out[high.note] = ", ".join(word for word in words if word)
    return out
