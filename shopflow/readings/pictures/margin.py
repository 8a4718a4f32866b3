"""The work on the scale of temperatures, with the dew point and what it needs above it."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from shopflow.common.charts.chart import Chart, Drawing
from shopflow.common.charts.draw import INK, LINE, RULE, SHEET, SOFT, box, n, path, scale, text, ticks
from shopflow.readings.measures import TEMPERATURE
from shopflow.readings.parts import Given

TOP, BAR, LEFT = 54.0, 30.0, 26.0


@dataclass(frozen=True, slots=True)
class Mark:
    """A place on a scale, with its name; `up` puts the name above the scale."""

    name: str
    value: float
    up: bool = True
    bold: bool = False


@dataclass(frozen=True, slots=True)
class _Gauge:
    """One lying scale: a stretch to keep out of (hatched), one that is fine (plain), and marks."""

    marks: Sequence[Mark]
    bad_until: float
    unit: str
    low: float
    high: float

    def on(self, width: float) -> Drawing:
        levels = ticks(self.low, self.high, 6 if width > 400 else 4)
        at = scale(levels[0], levels[-1], LEFT, width - LEFT)
        edge = min(max(self.bad_until, levels[0]), levels[-1])
        parts = [
            box(LEFT, TOP, width - 2 * LEFT, BAR, fill=SHEET, line=LINE),
            box(LEFT, TOP, at(edge) - LEFT, BAR, fill="#e3d3ae", line=LINE),
            _hatch(LEFT, at(edge)),
        ]
        for level in levels:
            parts.append(path(f"M{n(at(level))} {n(TOP + BAR)}v6", colour=LINE))
            parts.append(text(at(level), TOP + BAR + 22, f"{level:g}", anchor="middle"))
        parts.append(text(width - LEFT, TOP + BAR + 42, self.unit, anchor="end"))
        parts += [self._mark(mark, at(mark.value), width) for mark in self.marks]
        return Drawing("".join(parts), width, TOP + BAR + 52)

    def _mark(self, mark: Mark, x: float, width: float) -> str:
        anchor = "start" if x < width * 0.3 else "end" if x > width * 0.7 else "middle"
        y = 18 if mark.up else 38
        colour = INK if mark.bold else SOFT
        stem = path(f"M{n(x)} {n(y + 4)}V{n(TOP + BAR)}", colour=colour, width=3 if mark.bold else 1.6)
        return stem + text(x, y, mark.name, anchor=anchor, colour=colour, bold=mark.bold)


def _hatch(left: float, right: float) -> str:
    """Slanting strokes, so that the stretch to keep out of is not told by colour alone."""
    strokes, x = [], left
    while x < right - 1:
        tip = min(x + BAR / 2, right)
        strokes.append(f"M{n(x)} {n(TOP + BAR)}L{n(tip)} {n(TOP + BAR - 2 * (tip - x))}")
        x += 9
    return path("".join(strokes), colour=RULE, width=1.6) if strokes else ""


def gauge(*, title: str, description: str, marks: Sequence[Mark], bad_until: float, unit: str) -> Chart:
    """A lying scale with a hatched stretch to keep out of."""
    values = [mark.value for mark in marks]
    room = max(1.0, (max(values) - min(values)) * 0.15)
    drawn = _Gauge(marks, bad_until, unit, min(values) - room, max(values) + room)
    rows = tuple((mark.name, round(mark.value, 2)) for mark in marks)
    return Chart(title, description, ("", unit), rows, drawn.on)


def margin_gauge(given: Given, got: Given, units: str) -> Chart:
    """The work on the scale of temperatures, with the dew point and the least it needs."""
    unit = TEMPERATURE.unit(units)
    dew, least, surface = (
        unit.shown(each) for each in (got["dew_point_c"], got["lowest_surface_c"], given["surface_c"])
    )
    stands = "above" if surface >= least else "under"
    return gauge(
        title="The work and the dew point",
        description=f"The work is at {surface:.1f} {unit.name}, {stands} the {least:.1f} that it needs; "
        f"the dew point is {dew:.1f}.",
        marks=[Mark("dew point", dew, up=False), Mark("at least", least, up=False),
               Mark(f"the work {surface:.1f}", surface, bold=True)],
        bad_until=least,
        unit=unit.name,
    )  # fmt: skip
