"""What a chart is: a drawing together with the words and figures that stand in for it."""

from __future__ import annotations

import hashlib
from collections.abc import Callable, Sequence
from dataclasses import dataclass
from decimal import Decimal

from django.utils.html import escape
from django.utils.safestring import SafeString, mark_safe

from shopflow.common.charts.draw import n

Number = int | float | Decimal
Cell = str | Number | None

WIDE = 640.0
# A second drawing for a phone or a narrow column: the same text size on less paper.
NARROW = 340.0


@dataclass(frozen=True, slots=True)
class Series:
    """One run of figures under one name; None is a gap. `material` gives a department its pattern."""

    name: str
    values: Sequence[Number | None]
    material: str = ""


@dataclass(frozen=True, slots=True)
class Target:
    """What was aimed at: one figure for all, or one for each label."""

    name: str
    value: Number | Sequence[Number]

    def along(self, count: int) -> list[float]:
        """The aim at each of so many places."""
        if isinstance(self.value, Sequence):
            return [float(v) for v in self.value]
        return [float(self.value)] * count


@dataclass(frozen=True, slots=True)
class Band:
    """A range around a line, such as the middle 80 of 100 runs of a forecast."""

    name: str
    low: Sequence[Number | None]
    high: Sequence[Number | None]


@dataclass(frozen=True, slots=True)
class Mark:
    """A standing line between two places of the axis (`at` 25.5: after the 26th), such as a break."""

    name: str
    at: float


@dataclass(frozen=True, slots=True)
class Load:
    """Hours wanted of a department against the hours to be had."""

    name: str
    wanted: Number
    to_be_had: Number
    material: str = ""


@dataclass(frozen=True, slots=True)
class Span:
    """When one thing is likely to be done (early, likely, late), and what was promised."""

    name: str
    early: Number
    likely: Number
    late: Number
    promised: Number | None = None


@dataclass(frozen=True, slots=True)
class Drawing:
    """Marks on a piece of paper of that size."""

    body: str
    width: float
    height: float


@dataclass(frozen=True, slots=True)
class Chart:
    """A finished chart. `rows` are exactly the figures that were given; `draw` fits them to a paper width."""

    title: str
    description: str
    heads: tuple[str, ...]
    rows: tuple[tuple[Cell, ...], ...]
    draw: Callable[[float], Drawing]

    def svg(self, *, for_pdf: bool = False, narrow: bool = False) -> SafeString:
        """The drawing; for a PDF it stands alone, with its own size and typeface."""
        drawn = self.draw(NARROW if narrow else WIDE)
        key = hashlib.sha256(f"{self.title}{drawn.body}".encode()).hexdigest()[:8]
        size = f'viewBox="0 0 {n(drawn.width)} {n(drawn.height)}"'
        if for_pdf:
            size += f' width="{n(drawn.width)}" height="{n(drawn.height)}" font-family="Fira Sans"'
        names = f'class="{"narrow" if narrow else "wide"}" role="img" aria-labelledby="c{key}-t c{key}-d"'
        said = f'<title id="c{key}-t">{escape(self.title)}</title>'
        said += f'<desc id="c{key}-d">{escape(self.description)}</desc>'
        return mark_safe(f'<svg xmlns="http://www.w3.org/2000/svg" {size} {names}>{said}{drawn.body}</svg>')

    def both(self) -> SafeString:
        """Wide and narrow drawing together; the style sheet shows the one that fits its frame."""
        return mark_safe(self.svg() + self.svg(narrow=True))

    def written_rows(self) -> list[list[str]]:
        """The figures as the table beneath the chart shows them."""
        return [[written(cell) for cell in row] for row in self.rows]


def written(cell: Cell) -> str:
    """A figure without trailing noise; a gap is a dash.

    >>> written(4.60), written(None), written(31), written("week 3")
    ('4.6', '–', '31', 'week 3')
    """
    if cell is None:
        return "–"
    return cell if isinstance(cell, str) else f"{cell:.10g}"


def checked(name: str, values: Sequence[Number | None]) -> list[float | None]:
    """The same figures as floats; refuses what cannot be drawn."""
    out = [None if v is None else float(v) for v in values]
    bad = [v for v in out if v is not None and not abs(v) < 1e15]
    if bad:
        raise ValueError(f"{name}: got {bad[0]}; allowed are finite figures")
    return out


def same_length(labels: Sequence[str], name: str, values: Sequence[object]) -> None:
    """A run of figures must have one figure for each label."""
    if len(values) != len(labels):
        raise ValueError(f"{name}: got {len(values)} figures; allowed are {len(labels)}, one for each label")
