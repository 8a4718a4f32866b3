"""Strips: every single figure as a dot on its own line, and spans from early to late."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass

from shopflow.common.charts.chart import Chart, Drawing, Number, Span, checked
from shopflow.common.charts.draw import (
    INK,
    LINE,
    RULE,
    SHEET,
    SOFT,
    box,
    disc,
    labels_below,
    n,
    path,
    scale,
    text,
    ticks,
    width_of,
)
from shopflow.common.materials import material

PITCH, TOP, FOOT = 38.0, 8.0, 30.0
Words = Callable[[float], str]


def _plain(value: float) -> str:
    return f"{value:g}"


def dots(
    *,
    title: str,
    description: str,
    rows: Sequence[tuple[str, Sequence[Number], str]],
    unit: str = "",
    axis: Words = _plain,
    middles: Sequence[Number | None] = (),
) -> Chart:
    """A strip per name, a dot per figure, and an upright mark at the middle one if given.

    `rows` are (name, figures, material); the material may be empty.
    """
    runs = [[v for v in checked(name, values) if v is not None] for name, values, _ in rows]
    table = tuple((name, value) for name, values, _ in rows for value in values)
    marks = [None if m is None else float(m) for m in middles] or [None] * len(rows)
    drawn = _Dots([name for name, _, _ in rows], [slug for _, _, slug in rows], runs, marks, axis)
    return Chart(title, description, ("", unit or "figure"), table, drawn.on)


def spans(
    *, title: str, description: str, rows: Sequence[Span], axis: Words = _plain, now: Number | None = None
) -> Chart:
    """From early to late with the likely day in it; the promise is a flag, today an upright rule."""
    for row in rows:
        checked(row.name, (row.early, row.likely, row.late, row.promised))
    table = tuple(
        (row.name, *(_said(v, axis) for v in (row.early, row.likely, row.late, row.promised))) for row in rows
    )
    drawn = _Spans(rows, axis, None if now is None else float(now))
    return Chart(title, description, ("", "early", "likely", "late", "promised"), table, drawn.on)


def _said(value: Number | None, axis: Words) -> str | None:
    return None if value is None else axis(float(value))


@dataclass(frozen=True, slots=True)
class _Strips:
    """The paper of a strip chart: names at the left, upright rules with their figures below."""

    names: Sequence[str]
    width: float
    levels: tuple[float, ...]

    @property
    def left(self) -> float:
        return max([30.0, *(width_of(name, 15) for name in self.names)]) + 16

    @property
    def foot(self) -> float:
        return TOP + PITCH * len(self.names)

    def x(self, value: float) -> float:
        return scale(self.levels[0], self.levels[-1], self.left, self.width - 26)(value)

    def y(self, place: int) -> float:
        return TOP + PITCH * (place + 0.5)

    def paper(self, axis: Words) -> str:
        uprights = [path(f"M{n(self.x(v))} {n(TOP)}V{n(self.foot)}", colour=RULE) for v in self.levels]
        places = [self.x(v) for v in self.levels]
        below = labels_below([axis(v) for v in self.levels], places, self.foot + 20, places[1] - places[0])
        return "".join(uprights) + below + "".join(self._line(i) for i in range(len(self.names)))

    def _line(self, place: int) -> str:
        y = self.y(place)
        name = text(self.left - 12, y + 5, self.names[place], anchor="end", colour=INK, size=15)
        return path(f"M{n(self.left)} {n(y)}H{n(self.width - 26)}", colour=RULE) + name


@dataclass(frozen=True, slots=True)
class _Dots:
    names: Sequence[str]
    materials: Sequence[str]
    runs: list[list[float]]
    middles: Sequence[float | None]
    axis: Words

    def on(self, width: float) -> Drawing:
        known = [v for run in self.runs for v in run]
        strips = _Strips(self.names, width, tuple(ticks(min([0.0, *known]), max([1.0, *known]), 6)))
        body = strips.paper(self.axis) + "".join(self._row(strips, i) for i in range(len(self.names)))
        return Drawing(body, width, strips.foot + FOOT)

    def _row(self, strips: _Strips, place: int) -> str:
        y = strips.y(place)
        slug = self.materials[place]
        colour = material(slug).colour if slug else INK
        drawn = [disc(strips.x(v), y, 5, colour, see_through=True) for v in self.runs[place]]
        middle = self.middles[place]
        if middle is not None:
            x = strips.x(middle)
            drawn.append(path(f"M{n(x)} {n(y - 13)}v26", width=3))
            drawn.append(text(x + 7, y - 9, f"{middle:g}", colour=INK, bold=True))
        return "".join(drawn)


@dataclass(frozen=True, slots=True)
class _Spans:
    rows: Sequence[Span]
    axis: Words
    now: float | None

    def on(self, width: float) -> Drawing:
        days = [
            v for row in self.rows for v in (row.early, row.likely, row.late, row.promised) if v is not None
        ]
        known = [float(v) for v in days] + ([] if self.now is None else [self.now]) or [0.0]
        strips = _Strips([row.name for row in self.rows], width, tuple(ticks(min(known), max(known), 6)))
        body = strips.paper(self.axis)
        if self.now is not None:
            today = f"M{n(strips.x(self.now))} {n(TOP)}V{n(strips.foot)}"
            body += path(today, colour=SOFT, width=2, dash="2 3")
        body += "".join(_span(row, strips.y(i), strips.x) for i, row in enumerate(self.rows))
        return Drawing(body, width, strips.foot + FOOT)


def _span(row: Span, y: float, x: Callable[[float], float]) -> str:
    early, likely, late = x(float(row.early)), x(float(row.likely)), x(float(row.late))
    bar = box(early, y - 6, max(1.0, late - early), 12, fill="#e6cf9c", line=LINE)
    middle = disc(likely, y, 5.5)
    if row.promised is None:
        return bar + middle
    at = x(float(row.promised))
    return bar + middle + path(f"M{n(at)} {n(y + 13)}v-26h11l-4 5l4 5h-11", width=2, fill=SHEET)
