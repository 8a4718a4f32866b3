"""The materials of the departments: a colour, its pale ground, and above all a pattern.

A pattern is drawn as plain lines or dots inside a given rectangle, without ids or references, so the same
drawing serves a page, a swapped-in fragment and a PDF.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass

Pattern = Callable[[float, float, float, float], str]


@dataclass(frozen=True, slots=True)
class Material:
    """What a department's work is made of, as far as a screen can show it."""

    slug: str
    colour: str
    ground: str
    pattern: Pattern
    dotted: bool = False

    @property
    def css_class(self) -> str:
        return f"m-{self.slug}"


def n(number: float) -> str:
    """A coordinate, short: two decimals are finer than any screen here.

    >>> n(3.10001), n(12.0)
    ('3.1', '12')
    """
    return f"{round(number, 2):g}"


def _steps(start: float, length: float, pitch: float) -> list[float]:
    count = int((length - 0.01) // pitch) + 1
    return [start + pitch * (i + 0.5) for i in range(count) if pitch * (i + 0.5) < length]


def _uprights(x: float, y: float, w: float, h: float) -> str:
    """Straight grain, close and even, as in a soundboard."""
    return "".join(f"M{n(at)} {n(y)}v{n(h)}" for at in _steps(x, w, 3))


def _strings(x: float, y: float, w: float, h: float) -> str:
    return "".join(f"M{n(x)} {n(at)}h{n(w)}" for at in _steps(y, h, 4))


def _slants(x: float, y: float, w: float, h: float, rising: bool = True, pitch: float = 6) -> str:
    """Brushed metal: parallel slants, cut off at the edges of the rectangle."""
    lines = []
    for c in _steps(0, w + h, pitch):
        x1, x2 = max(0, c - h), min(w, c)
        y1, y2 = c - x1, c - x2
        left, right = (x + x1, x + x2) if rising else (x + w - x1, x + w - x2)
        lines.append(f"M{n(left)} {n(y + y1)}L{n(right)} {n(y + y2)}")
    return "".join(lines)


def _crossed(x: float, y: float, w: float, h: float) -> str:
    return _slants(x, y, w, h) + _slants(x, y, w, h, rising=False)


def _figured(x: float, y: float, w: float, h: float) -> str:
    """Wavy figure, as in walnut: each line is a run of shallow curves, ending inside the rectangle."""
    paths = []
    for at in _steps(x, w, 5):
        waves = max(1, round(h / 8))
        rise = h / waves
        sway = min(2.0, w / 5)
        curve = f"q{n(sway)} {n(rise / 4)} 0 {n(rise / 2)}t0 {n(rise / 2)}"
        paths.append(f"M{n(at)} {n(y)}" + curve * waves)
    return "".join(paths)


def _nap(x: float, y: float, w: float, h: float) -> str:
    """Felt: dots, every other row moved by half a step."""
    dots = []
    for row, cy in enumerate(_steps(y, h, 4)):
        for cx in _steps(x, w, 5):
            at = cx + (1.25 if row % 2 else -1.25)
            if x + 1 <= at <= x + w - 1 and y + 1 <= cy <= y + h - 1:
                dots.append(f"M{n(at - 0.9)} {n(cy)}a.9.9 0 1 0 1.8 0a.9.9 0 1 0 -1.8 0")
    return "".join(dots)


def _sharps(x: float, y: float, w: float, h: float) -> str:
    """Ebony on ivory: rows of sharps, as on a keyboard."""
    rows = max(1, round(h / 16))
    high = h / rows
    return "".join(
        f"M{n(at - 1.6)} {n(y + row * high)}h3.2v{n(high * 0.66)}h-3.2Z"
        for row in range(rows)
        for at in _steps(x, w, 6.2)
        if at + 1.6 <= x + w
    )


MATERIALS = {
    material.slug: material
    for material in (
        Material("walnut", "#6a4023", "#ead6c2", _figured),
        Material("brass", "#8a6410", "#f3e2ae", _slants),
        Material("felt", "#2d6845", "#d5e3d2", _nap, dotted=True),
        Material("spruce", "#93682a", "#f4e3bd", _uprights),
        Material("steel", "#33536b", "#d6e0e6", _strings),
        Material("ebony", "#2a2522", "#fbf6ea", _sharps, dotted=True),
        Material("neutral", "#5d5548", "#e6dfd1", _crossed),
    )
}


def material(slug: str) -> Material:
    """The material of that name; a department with a material of its own invention gets the neutral one."""
    return MATERIALS.get(slug, MATERIALS["neutral"])


def patch(slug: str, x: float, y: float, w: float, h: float) -> str:
    """A rectangle of that material: pale ground, pattern, outline.

    >>> patch("steel", 0, 0, 8, 8).count("<path")
    1
    """
    if w <= 0 or h <= 0:
        return ""
    made = material(slug)
    paint = (
        f'fill="{made.colour}"' if made.dotted else f'fill="none" stroke="{made.colour}" stroke-width="1.1"'
    )
    frame = f'x="{n(x)}" y="{n(y)}" width="{n(w)}" height="{n(h)}"'
    return (
        f'<rect {frame} fill="{made.ground}"/><path d="{made.pattern(x, y, w, h)}" {paint}/>'
        f'<rect {frame} fill="none" stroke="{made.colour}" stroke-width="1.2"/>'
    )
