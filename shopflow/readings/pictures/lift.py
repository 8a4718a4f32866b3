"""A lift from the side."""

from __future__ import annotations

from dataclasses import dataclass

from shopflow.catalogue.models import Units
from shopflow.common.charts.chart import Chart, Drawing
from shopflow.common.charts.draw import INK, LINE, SHEET, SOFT, box, n, path, text
from shopflow.common.materials import patch
from shopflow.readings.measures import REACH, WEIGHT
from shopflow.readings.parts import Given


@dataclass(frozen=True, slots=True)
class _Lift:
    """A lift from the side: floor, knuckle height, the load at its start and at its end. Lengths in mm."""

    start: tuple[float, float]
    end: tuple[float, float]
    labels: tuple[str, str]
    knuckle: float
    knuckle_words: str

    def on(self, width: float) -> Drawing:
        height, floor = 320.0, 286.0
        tallest = max(1900.0, self.start[1] + 150, self.end[1] + 150)
        per_mm = (floor - 24) / tallest
        ankle = width * 0.3

        def place(spot: tuple[float, float]) -> tuple[float, float]:
            return ankle + spot[0] * per_mm, floor - spot[1] * per_mm

        knuckle = floor - self.knuckle * per_mm
        parts = [
            path(f"M14 {n(floor)}H{n(width - 14)}", width=2),
            path(f"M14 {n(knuckle)}H{n(width - 14)}", colour=LINE, width=1.4, dash="5 5"),
            text(width - 14, knuckle - 6, self.knuckle_words, anchor="end"),
            _figure(ankle, floor, per_mm),
            path(f"M{n(ankle)} {n(floor)}v14", colour=SOFT, width=1.6),
            text(ankle, floor + 30, "ankles", anchor="middle"),
        ]
        parts += [self._load(*place(self.end), self.labels[1], solid=False)]
        parts += [self._load(*place(self.start), self.labels[0], solid=True)]
        (x0, y0), (x1, y1) = place(self.start), place(self.end)
        if abs(y1 - y0) > 30:
            parts.append(_arrow(max(x0, x1) + 32, y0, y1))
        return Drawing("".join(parts), width, height)

    def _load(self, x: float, y: float, words: str, *, solid: bool) -> str:
        square = _load(x - 20, y - 15, solid=solid)
        return square + text(x + 44, y + 5, words, colour=INK, bold=solid)


def _load(x: float, y: float, *, solid: bool) -> str:
    return patch("walnut", x, y, 40, 30) if solid else box(x, y, 40, 30, fill=SHEET, line=INK)


def _figure(x: float, floor: float, per_mm: float) -> str:
    """Somebody who stands: no more than a hint of one."""
    hip, shoulder, head = (floor - mm * per_mm for mm in (900, 1430, 1650))
    back = x - 60 * per_mm * 2
    body = f"M{n(x - 8)} {n(floor)}L{n(back)} {n(hip)}L{n(back + 8)} {n(shoulder)}"
    circle = f"M{n(back - 4)} {n(head)}a12 12 0 1 0 24 0a12 12 0 1 0 -24 0"
    return path(body, colour=SOFT, width=7) + path(circle, colour=SOFT, width=3, fill=SHEET)


def _arrow(x: float, y0: float, y1: float) -> str:
    tip = 7 if y1 < y0 else -7
    head = f"M{n(x - 6)} {n(y1 + tip)}L{n(x)} {n(y1)}L{n(x + 6)} {n(y1 + tip)}"
    return path(f"M{n(x)} {n(y0)}V{n(y1)}{head}", width=2)


def lift_drawing(given: Given, got: Given, units: str) -> Chart:
    """The lift from the side, with the limit at its start and at its end."""
    reach, low, high = given["horizontal_mm"], given["vertical_mm"], given["end_vertical_mm"]
    end_reach = given.get("end_horizontal_mm", reach)
    load = WEIGHT.written(given["load_kg"], units)
    limits = [WEIGHT.written(got[name], units) for name in ("start_kg", "end_kg")]
    knuckle = 762.0 if units == Units.INCH else 750.0
    drawn = _Lift(
        (reach, low),
        (end_reach, high),
        (f"start, limit {limits[0]}", f"end, limit {limits[1]}"),
        knuckle,
        f"knuckles {REACH.written(knuckle, units)}",
    )
    return Chart(
        "The lift from the side",
        f"{load} from {REACH.written(low, units)} to {REACH.written(high, units)} above the floor; "
        f"the limit is {limits[0]} at the start and {limits[1]} at the end.",
        ("", "before the ankles", "above the floor", "limit"),
        (
            ("start", REACH.written(reach, units), REACH.written(low, units), limits[0]),
            ("end", REACH.written(end_reach, units), REACH.written(high, units), limits[1]),
        ),
        drawn.on,
    )
