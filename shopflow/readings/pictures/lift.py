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
        height, floor = 330.0, 288.0
        per_mm = (floor - 24) / max(1900.0, self.start[1] + 150, self.end[1] + 150)
        ankle = width * 0.24
        spots = [(ankle + x * per_mm, floor - y * per_mm) for x, y in (self.start, self.end)]
        (x0, y0), (x1, y1) = spots
        # Two names on one another would read as neither.
        name_y1 = y1 if abs(y1 - y0) > 18 else y0 - 18
        names_x = max(x0, x1) + 48
        knuckle = floor - self.knuckle * per_mm
        parts = [
            path(f"M14 {n(floor)}H{n(width - 14)}", width=2),
            path(f"M14 {n(knuckle)}H{n(width - 14)}", colour=LINE, width=1.4, dash="5 5"),
            text(width - 14, _free_of(knuckle, (y0, name_y1)), self.knuckle_words, anchor="end"),
            _figure(ankle, floor, per_mm, hands=(x0, y0)),
            path(f"M{n(ankle)} {n(floor)}v12", colour=SOFT, width=1.6),
            text(ankle, floor + 28, "ankles", anchor="middle"),
            _load(x1 - 20, y1 - 15, solid=False),
            _load(x0 - 20, y0 - 15, solid=True),
            text(names_x, name_y1 + 5, self.labels[1], colour=INK),
            text(names_x, y0 + 5, self.labels[0], colour=INK, bold=True),
        ]
        if abs(y1 - y0) > 30:
            parts.append(_arrow(names_x - 16, y0, y1))
        return Drawing("".join(parts), width, height)


def _load(x: float, y: float, *, solid: bool) -> str:
    return patch("walnut", x, y, 40, 30) if solid else box(x, y, 40, 30, fill=SHEET, line=INK)


def _free_of(line: float, names: tuple[float, float]) -> float:
    """Where words beside this line stand in nobody's way: above it, below it, or further off."""
    places = (line - 6, line + 18, line - 26, line + 38)
    return next((y for y in places if all(abs(y - name - 5) > 17 for name in names)), places[-1])


def _figure(x: float, floor: float, per_mm: float, *, hands: tuple[float, float]) -> str:
    """Somebody who stands and reaches for the load: no more than a hint of one."""
    hip, shoulder, head = (floor - mm * per_mm for mm in (920, 1400, 1640))
    body = f"M{n(x - 6)} {n(floor)}L{n(x - 16)} {n(hip)}L{n(x - 6)} {n(shoulder)}L{n(x - 3)} {n(head + 12)}"
    arms = f"M{n(x - 6)} {n(shoulder + 6)}L{n(hands[0])} {n(hands[1])}"
    circle = f"M{n(x - 14)} {n(head)}a12 12 0 1 0 24 0a12 12 0 1 0 -24 0"
    return (
        path(body, colour=SOFT, width=7)
        + path(arms, colour=SOFT, width=4)
        + path(circle, colour=SOFT, width=3, fill=SHEET)
    )


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
        (f"start: {limits[0]}", f"end: {limits[1]}"),
        knuckle,
        f"knuckles {REACH.written(knuckle, units)}",
    )
    return Chart(
        "The lift from the side, and its limits",
        f"{load} from {REACH.written(low, units)} to {REACH.written(high, units)} above the floor; "
        f"the limit is {limits[0]} at the start and {limits[1]} at the end.",
        ("", "before the ankles", "above the floor", "limit"),
        (
            ("start", REACH.written(reach, units), REACH.written(low, units), limits[0]),
            ("end", REACH.written(end_reach, units), REACH.written(high, units), limits[1]),
        ),
        drawn.on,
    )
