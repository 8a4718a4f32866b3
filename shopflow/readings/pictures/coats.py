"""The coats of a film, laid and to come, against the film that is wanted."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass

from shopflow.common.charts.chart import Chart, Drawing
from shopflow.common.charts.draw import INK, LINE, SHEET, box, n, path, scale, text, ticks
from shopflow.common.materials import patch
from shopflow.readings.measures import FILM
from shopflow.readings.parts import Given

MOST_DRAWN = 60


@dataclass(frozen=True, slots=True)
class _FilmBar:
    """Coats side by side: what is laid in walnut, what is to come in outline, the film wanted as a line."""

    each: float
    coats: int
    laid: int
    target: float
    rubbed: float
    unit: str

    def on(self, width: float) -> Drawing:
        top, high, left, right = 46.0, 46.0, 26.0, width - 26
        count = max(self.coats, self.laid, 1)
        levels = ticks(0, max(self.target, count * self.each), 6 if width > 400 else 4)
        at = scale(0, levels[-1], left, right)
        parts = [path(f"M{n(left)} {n(top + high)}H{n(right)}", colour=LINE)]
        for place in range(count):
            x, wide = at(place * self.each), at((place + 1) * self.each) - at(place * self.each)
            done = place < self.laid
            parts.append(_coat(x, top, wide, high, done=done))
            if wide > 22:
                parts.append(_numbered(place + 1, x + wide / 2, top + high / 2, done=done))
        parts += [path(f"M{n(at(level))} {n(top + high)}v6", colour=LINE) for level in levels]
        parts += [text(at(level), top + high + 22, f"{level:g}", anchor="middle") for level in levels]
        parts.append(text(right, top + high + 42, self.unit, anchor="end"))
        parts.append(self._aim(at, top, high, width))
        return Drawing("".join(parts), width, top + high + 52)

    def _aim(self, at: Callable[[float], float], top: float, high: float, width: float) -> str:
        x = at(self.target)
        anchor = "end" if x > width / 2 else "start"
        rubbed = f", of it {self.rubbed:.3g} rubbed off" if self.rubbed else ""
        words = f"to build {self.target:.3g}{rubbed}"
        line = path(f"M{n(x)} {n(top - 12)}V{n(top + high + 6)}", width=3)
        return line + text(x, top - 20, words, anchor=anchor, colour=INK, bold=True)


def _coat(x: float, y: float, wide: float, high: float, *, done: bool) -> str:
    return patch("walnut", x, y, wide, high) if done else box(x, y, wide, high, fill=SHEET, line=LINE)


def _numbered(number: int, x: float, y: float, *, done: bool) -> str:
    ground = box(x - 11, y - 11, 22, 22, fill=SHEET) if done else ""
    return ground + text(x, y + 5, str(number), anchor="middle", colour=INK, bold=done)


def film_bar(given: Given, got: Given, units: str) -> Chart | None:
    """The coats of a film against the film that is wanted; None where they are too many to be drawn."""
    unit = FILM.unit(units)
    laid, coats = int(given.get("laid") or 0), int(got["coats"])
    if max(laid, coats) > MOST_DRAWN:
        return None
    each, target, so_far = (unit.shown(got[name]) for name in ("each_um", "target_um", "so_far_um"))
    rubbed = unit.shown(float(given.get("rubbed_um") or 0))
    drawn = _FilmBar(each, coats, laid, target, rubbed, unit.name)
    return Chart(
        "Coats against the film wanted",
        f"{laid} of {coats} coats laid: {so_far:.3g} of {target:.3g} {unit.name}.",
        ("", unit.name),
        (("one coat", round(each, 2)), ("built so far", round(so_far, 2)), ("to build", round(target, 2))),
        drawn.on,
    )
