"""The pen: text, lines and scales, everything escaped at the one place where text enters a drawing."""

from __future__ import annotations

import math
from collections.abc import Callable, Sequence

from django.utils.html import escape

from shopflow.common.materials import n as n

INK = "#231b13"
SOFT = "#4d3f2e"
LINE = "#8a7552"
RULE = "#cdbf9f"
SHEET = "#fcf8ef"
TEXT = 14.0


def text(
    x: float,
    y: float,
    words: str,
    *,
    anchor: str = "start",
    size: float = TEXT,
    colour: str = SOFT,
    bold: bool = False,
) -> str:
    """Words at a place; whatever they contain, they stay words."""
    weight = ' font-weight="600"' if bold else ""
    return (
        f'<text x="{n(x)}" y="{n(y)}" font-size="{n(size)}" fill="{colour}" '
        f'text-anchor="{anchor}"{weight}>{escape(words)}</text>'
    )


def path(
    d: str, *, colour: str = INK, width: float = 1, dash: str = "", fill: str = "none", opacity: float = 1
) -> str:
    extra = f' stroke-dasharray="{dash}"' if dash else ""
    see_through = f' fill-opacity="{opacity:g}"' if opacity < 1 else ""
    stroke = f'stroke="{colour}" stroke-width="{n(width)}" stroke-linejoin="round"' if width else ""
    return f'<path d="{d}" fill="{fill}" {stroke}{extra}{see_through}/>'


def disc(x: float, y: float, radius: float, colour: str = INK, *, see_through: bool = False) -> str:
    paint = f'fill-opacity=".6" stroke="{colour}"' if see_through else ""
    return f'<circle cx="{n(x)}" cy="{n(y)}" r="{n(radius)}" fill="{colour}" {paint}/>'


def box(x: float, y: float, w: float, h: float, *, fill: str, line: str = "") -> str:
    edge = f' stroke="{line}" stroke-width=".9"' if line else ""
    return f'<rect x="{n(x)}" y="{n(y)}" width="{n(w)}" height="{n(h)}" fill="{fill}"{edge}/>'


def width_of(words: str, size: float = TEXT) -> float:
    """About how wide words will be: enough to leave room for them.

    >>> width_of("week 26") > width_of("W26")
    True
    """
    return 0.56 * size * len(words)


def ticks(low: float, high: float, about: int = 5) -> list[float]:
    """Round figures for an axis, from at or below `low` to at or above `high`.

    >>> ticks(0, 70)
    [0.0, 20.0, 40.0, 60.0, 80.0]
    """
    if high - low <= 1e-9 * max(1.0, abs(low), abs(high)):
        high = low + max(1.0, abs(low))
    raw = (high - low) / max(1, about - 1)
    unit = 10.0 ** math.floor(math.log10(raw))
    step = next(unit * m for m in (1, 2, 5, 10) if unit * m >= raw * 0.999)
    first, last = math.floor(low / step + 1e-9), math.ceil(high / step - 1e-9)
    return [round(step * k, 10) for k in range(first, last + 1)]


def decades(low: float, high: float) -> list[float]:
    """Round figures for an axis on which each step is a multiple: ones, twos and fives.

    >>> decades(0.3, 8)
    [0.2, 0.5, 1.0, 2.0, 5.0, 10.0]
    """
    if low <= 0:
        raise ValueError(f"got {low}; allowed on such an axis is more than 0")
    first, last = math.floor(math.log10(low)), math.floor(math.log10(high)) + 1
    steps = [round(10.0**k * m, 10) for k in range(first, last + 1) for m in (1, 2, 5)]
    start = max(i for i, step in enumerate(steps) if step <= low)
    end = min(i for i, step in enumerate(steps) if step >= high)
    return steps[start : max(end, start + 1) + 1]


def scale(low: float, high: float, start: float, end: float) -> Callable[[float], float]:
    """From figures to places on the paper."""
    spread = (high - low) or 1.0
    return lambda value: start + (value - low) / spread * (end - start)


def labels_below(labels: Sequence[str], places: Sequence[float], y: float, room: float) -> str:
    """Labels under an axis, as many as fit without touching; the first and every so many after it."""
    widest = max((width_of(words) for words in labels), default=0) + 8
    every = max(1, math.ceil(widest / room)) if room > 0 else 1
    kept = range(0, len(labels), every)
    return "".join(text(places[i], y, labels[i], anchor="middle") for i in kept)
