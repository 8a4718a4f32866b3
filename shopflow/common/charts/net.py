"""A net of work as a picture: what waits for what from left to right, a band for each department.

The state of a piece is told by the shape of its key and by its frame: dashed waits for other work, heavy can
be taken or is under way, plain on darker paper is signed, and a stopped one carries the eight-cornered sign.
"""

from __future__ import annotations

import textwrap
from collections.abc import Hashable, Mapping, Sequence
from dataclasses import dataclass
from enum import StrEnum

from django.utils.html import escape
from django.utils.safestring import SafeString, mark_safe

from shopflow.common import keys
from shopflow.common.charts.draw import INK, LINE, RULE, SHEET, SOFT, n, path, text
from shopflow.common.charts.net_places import BandRows, Places, Run, Tie, places
from shopflow.common.marks import Marked, mark_svg
from shopflow.common.materials import Material, material, patch

WIDE, HIGH = 178.0, 40.0
GUTTER, ROW_GAP, BAND_GAP, CORNER = 46.0, 9.0, 12.0, 6.0
HEAD = 92.0
LETTERS_A_LINE = 19
STOP = "#86150d"


class Look(StrEnum):
    """How a piece of work is framed."""

    SIGNED = "signed"
    WAITING = "waiting"
    READY = "ready"
    UNDER_WAY = "under way"
    STOPPED = "stopped"


_FRAME = {
    Look.SIGNED: f'fill="#e9dec7" stroke="{LINE}" stroke-width="1"',
    Look.WAITING: f'fill="{SHEET}" stroke="{LINE}" stroke-width="1.2" stroke-dasharray="5 3"',
    Look.READY: f'fill="#fffdf8" stroke="{INK}" stroke-width="2.2"',
    Look.UNDER_WAY: f'fill="#fffdf8" stroke="{INK}" stroke-width="2.2"',
    Look.STOPPED: f'fill="#fffdf8" stroke="{STOP}" stroke-width="2.6"',
}


@dataclass(frozen=True, slots=True)
class Piece:
    """One piece of work: `band` is the name of its band, `said` its own name and state in full."""

    key: Hashable
    name: str
    band: str
    kind: str
    look: Look
    url: str
    said: str


@dataclass(frozen=True, slots=True)
class Net:
    """The drawing in two parts: the heads of the bands can stay in sight while the rest is scrolled."""

    heads: SafeString
    body: SafeString


def net(pieces: Sequence[Piece], ties: Sequence[Tie], departments: Mapping[str, Marked]) -> Net:
    """Draw the net: `ties` are (earlier, later) by key, `departments` the bands by name from top to bottom.

    Work that waits for itself raises ComputeError: it has no first.
    """
    where = places({piece.key: piece.band for piece in pieces}, ties, list(departments))
    paper = _Paper(where, departments)
    runs = "".join(paper.run(run) for run in where.runs)
    return Net(paper.heads(), paper.sheet(runs + "".join(paper.piece(piece) for piece in pieces)))


class _Paper:
    """Turns columns and rows into places on paper."""

    def __init__(self, where: Places, departments: Mapping[str, Marked]) -> None:
        self.where, self.departments = where, departments
        self.bands = [band for band in where.bands if band.count]
        self.offset = {
            row: BAND_GAP * (place + 1)
            for place, band in enumerate(self.bands)
            for row in range(band.first, band.first + band.count)
        }
        self.trunks = self._trunks()
        self.width = where.columns * (WIDE + GUTTER) - GUTTER + 16
        self.height = self._band_top(self.bands[-1]) + self._band_high(self.bands[-1]) if self.bands else 0.0

    def _x(self, column: int) -> float:
        return 8 + column * (WIDE + GUTTER)

    def _y(self, row: int) -> float:
        return row * (HIGH + ROW_GAP) + self.offset[row]

    def _band_top(self, band: BandRows) -> float:
        return self._y(band.first) - BAND_GAP / 2

    def _band_high(self, band: BandRows) -> float:
        return band.count * (HIGH + ROW_GAP) + BAND_GAP - ROW_GAP

    def _made(self, band: BandRows) -> Material:
        return material(self.departments[band.band].material)

    def heads(self) -> SafeString:
        """The names of the bands beside their marks."""
        drawn = []
        for band in self.bands:
            top, whose = self._band_top(band), self.departments[band.band]
            made = self._made(band)
            drawn.append(
                _ground(top, HEAD, self._band_high(band), made.ground)
                + f'<g transform="translate(6 {n(top + 6)})">{mark_svg(whose.mark, made.slug)}</g>'
                + text(6, top + 45, whose.name, size=13, colour=INK)
            )
        return mark_safe(_svg(HEAD, self.height, "".join(drawn), "net-heads"))

    def sheet(self, drawn: str) -> SafeString:
        grounds = "".join(
            _ground(self._band_top(band), self.width, self._band_high(band), self._made(band).ground, ".38")
            for band in self.bands
        )
        return mark_safe(_svg(self.width, self.height, grounds + drawn, "net-body"))

    def run(self, run: Run) -> str:
        """From the end of the earlier piece to an arrow at the front of the later one."""
        end = self._x(self.where.column[run.later]) - 1
        y1, level, y2 = self._levels(run)
        first, last = self._gutters(run)
        d = f"M{n(self._x(first) + WIDE)} {n(y1)}"
        if first != last:
            d += _step(self._trunk(first, run), y1, level)
            y1 = level
        d += _step(self._trunk(last, run), y1, y2) + f"H{n(end - 3)}"
        arrow = f"M{n(end - 7)} {n(y2 - 4)}L{n(end)} {n(y2)}L{n(end - 7)} {n(y2 + 4)}Z"
        # What goes far is drawn fainter, so that the next step stays in sight.
        colour = SOFT if first == last else LINE
        return path(d, colour=colour, width=1.3) + path(arrow, fill=colour, width=0)

    def _levels(self, run: Run) -> tuple[float, float, float]:
        """The heights at which a run leaves, goes along, and arrives."""
        y1, y2 = (self._y(self.where.row[key]) + HIGH / 2 for key in (run.earlier, run.later))
        return y1, self._y(run.row) + (HIGH + ROW_GAP / 2 if run.below else HIGH / 2), y2

    def _gutters(self, run: Run) -> tuple[int, int]:
        """The gutters in which a run may go up or down: behind its start and before its end."""
        return self.where.column[run.earlier], self.where.column[run.later] - 1

    def _trunks(self) -> dict[int, list[Hashable]]:
        """For each gutter the pieces whose runs go up or down in it: one upright each, for all its runs."""
        found: dict[int, list[Hashable]] = {}
        for run in self.where.runs:
            y1, level, y2 = self._levels(run)
            first, last = self._gutters(run)
            steps = [(first, y1, y2)] if first == last else [(first, y1, level), (last, level, y2)]
            for gutter, start, end in steps:
                here = found.setdefault(gutter, [])
                if start != end and run.earlier not in here:
                    here.append(run.earlier)
        return {gutter: sorted(here, key=self.where.row.__getitem__) for gutter, here in found.items()}

    def _trunk(self, gutter: int, run: Run) -> float:
        here = self.trunks[gutter]
        share = (here.index(run.earlier) + 1) / (len(here) + 1) if run.earlier in here else 0.5
        return self._x(gutter) + WIDE + CORNER + (GUTTER - 2 * CORNER - 6) * share

    def piece(self, piece: Piece) -> str:
        x, y = self._x(self.where.column[piece.key]), self._y(self.where.row[piece.key])
        slug = material(self.departments[piece.band].material).slug
        lines = textwrap.wrap(piece.name, LETTERS_A_LINE, max_lines=2, placeholder="…")
        first = y + (25 if len(lines) == 1 else 17)
        colour = SOFT if piece.look is Look.SIGNED else INK
        words = "".join(
            text(x + 40, first + 16 * place, line, size=13, colour=colour) for place, line in enumerate(lines)
        )
        marks = "" if piece.look in {Look.SIGNED, Look.WAITING} else " data-open"
        frame = f'<rect class="net-frame" x="{n(x)}" y="{n(y)}" width="{n(WIDE)}" height="{n(HIGH)}" rx="2" '
        state = {Look.SIGNED: "done", Look.WAITING: "ahead", Look.READY: "ahead"}.get(piece.look, "now")
        key = keys.run((piece.kind,), (state,), 0 if piece.look is Look.STOPPED else None)
        return (
            f'<a href="{escape(piece.url)}" tabindex="-1" class="m-{slug} net-piece"{marks}>'
            f"<title>{escape(piece.said)}</title>{frame}{_FRAME[piece.look]}/>"
            f"{patch(slug, x + 2, y + 2, 9, HIGH - 4)}"
            f'<g transform="translate({n(x + 17)} {n(y + 3)}) scale(1.6)">{key}</g>{words}</a>'
        )


def _ground(top: float, width: float, height: float, colour: str, opacity: str = "1") -> str:
    size = f'x="0" y="{n(top)}" width="{n(width)}" height="{n(height)}"'
    return f'<rect {size} fill="{colour}" fill-opacity="{opacity}"/>'


def _step(x: float, y1: float, y2: float) -> str:
    """Along to `x`, up or down there with rounded corners, and on."""
    if y1 == y2:
        return ""
    corner = min(CORNER, abs(y2 - y1) / 2)
    down = corner if y2 > y1 else -corner
    return (
        f"H{n(x - corner)}Q{n(x)} {n(y1)} {n(x)} {n(y1 + down)}"
        f"V{n(y2 - down)}Q{n(x)} {n(y2)} {n(x + corner)} {n(y2)}"
    )


def _svg(width: float, height: float, inside: str, name: str) -> str:
    edge = f'<path d="M0 0H{n(width)}M0 {n(height)}H{n(width)}" stroke="{RULE}"/>'
    return (
        f'<svg xmlns="http://www.w3.org/2000/svg" class="{name}" viewBox="0 0 {n(width)} {n(height)}" '
        f'width="{n(width)}" height="{n(height)}" aria-hidden="true" focusable="false">{edge}{inside}</svg>'
    )
