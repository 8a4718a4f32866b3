"""A reading as it is typed and shown, in millimetres or in inches, and as it is kept."""

from __future__ import annotations

import math
from decimal import ROUND_HALF_UP, Decimal

from .models import ReadingKind, Units

KEPT = Decimal("0.0001")


def types_inches(kind: ReadingKind, units: str) -> bool:
    return units == Units.INCH and bool(kind.inch_unit)


def unit_of(kind: ReadingKind, units: str) -> str:
    return kind.inch_unit if types_inches(kind, units) else kind.unit


def to_kept(kind: ReadingKind, typed: Decimal, units: str) -> Decimal:
    """The value in the unit that is kept."""
    if types_inches(kind, units):
        typed = typed * kind.inch_factor + kind.inch_offset
    return typed.quantize(KEPT, ROUND_HALF_UP)


def to_shown(kind: ReadingKind, kept: Decimal, units: str) -> Decimal:
    """The value in the shop's unit, with as many decimals as its gauge can tell."""
    places = kind.decimals
    if types_inches(kind, units):
        kept = (kept - kind.inch_offset) / kind.inch_factor
        places += max(0, math.ceil(math.log10(kind.inch_factor)))
    rounded = kept.quantize(Decimal(1).scaleb(-places), ROUND_HALF_UP)
    return abs(rounded) if rounded.is_zero() else rounded


def number(kind: ReadingKind, kept: Decimal, units: str) -> str:
    """Without the noughts at its end: the range "5.6 to 16.9", not "5.600 to 16.900"."""
    shown = f"{to_shown(kind, kept, units):f}"
    return (shown.rstrip("0").rstrip(".") if "." in shown else shown).replace("-", "−")


def in_words(kind: ReadingKind, kept: Decimal, units: str) -> str:
    """The number and its unit."""
    shown = f"{to_shown(kind, kept, units):f}".replace("-", "−")
    return f"{shown} {unit_of(kind, units)}".strip()


def span(kind: ReadingKind, low: Decimal | None, high: Decimal | None, units: str) -> str:
    """A range in the shop's unit; empty where there is none."""
    unit = unit_of(kind, units)
    ends = [number(kind, end, units) for end in (low, high) if end is not None]
    if low is not None and high is not None:
        return f"{ends[0]} to {ends[1]} {unit}".strip()
    if not ends:
        return ""
    return f"{'at least' if high is None else 'up to'} {ends[0]} {unit}".strip()


def usual(kind: ReadingKind, units: str) -> str:
    return span(kind, kind.usual_low, kind.usual_high, units)


def possible(kind: ReadingKind, units: str) -> str:
    return span(kind, kind.possible_low, kind.possible_high, units)


def is_possible(kind: ReadingKind, kept: Decimal) -> bool:
    return _within(kept, kind.possible_low, kind.possible_high)


def is_usual(kind: ReadingKind, kept: Decimal) -> bool | None:
    """None where there is no usual range: history then, no verdict."""
    if kind.usual_low is None and kind.usual_high is None:
        return None
    return _within(kept, kind.usual_low, kind.usual_high)


def _within(value: Decimal, low: Decimal | None, high: Decimal | None) -> bool:
    return (low is None or low <= value) and (high is None or value <= high)
