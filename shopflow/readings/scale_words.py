"""What a scale shows, in words: where it jumps, what lies beside the usual, what is unlikely."""

from __future__ import annotations

from collections.abc import Sequence

from shopflow.catalogue.models import Units
from shopflow.compute.strings import (
    HIGHEST_SHARE,
    USUAL_PULL_N,
    Break,
    NoteFigures,
    Oddity,
    ScaleFigures,
    lb_of,
)

from .measures import LENGTH
from .note_cells import NoteDraft
from .note_names import stretch
from .wires import DIAMETER

_USUAL = f"{USUAL_PULL_N[0]:.0f} to {USUAL_PULL_N[1]:.0f} N (150 to 200 lb)"
# Beyond these a figure was misread or mistyped far more often than it is true (common practice, no source).
_PULL_POSSIBLE = (150.0, 2500.0)


def oddities_in_words(figures: ScaleFigures | None, units: str = Units.METRIC) -> list[str]:
    return [_said(each, units) for each in figures.oddities] if figures else []


def _said(odd: Oddity, units: str) -> str:
    where = stretch(odd.first, odd.last).capitalize()
    if odd.kind == "longer":
        return (
            f"{where}: speaking length {_long(odd.low, units)}, not shorter than {_long(odd.high, units)} "
            "one note below. "
            "Measured again?"
        )
    if odd.kind == "thicker":
        thick, below = (DIAMETER.written(each, units) for each in (odd.low, odd.high))
        return f"{where}: wire of {thick}, thicker than {below} one note below."
    if odd.kind == "step":
        way = "falls" if odd.low < 0 else "rises"
        return f"{where}: the tension {way} by {abs(odd.low):.0%} inside a section."
    if odd.kind == "near breaking":
        return f"{where}: {_span(odd, 100, '%')} of the breaking load, over the usual {HIGHEST_SHARE:.0%}."
    side = "over" if odd.kind == "tight" else "under"
    return f"{where}: {_span(odd, 1, 'N')} a string, {side} the usual {_USUAL}."


def _long(mm: float, units: str) -> str:
    return LENGTH.written(mm, units)


def _span(odd: Oddity, times: float, unit: str) -> str:
    low, high = f"{odd.low * times:,.0f}", f"{odd.high * times:,.0f}"
    return f"{low} {unit}" if low == high else f"{low} to {high} {unit}"


def breaks_in_words(breaks: Sequence[Break]) -> list[str]:
    return [_break(each) for each in breaks]


def _break(each: Break) -> str:
    parts = (
        ("section", each.is_section), ("winding", each.is_winding), ("strings a note", each.is_count)
    )  # fmt: skip
    names = [name for name, is_it in parts if is_it]
    way = "falls" if each.step < 0 else "rises"
    step = f"the tension {way} by {abs(each.step):.0%}" if abs(each.step) >= 0.005 else "no step of tension"
    return f"Between {each.below} and {each.above} ({', '.join(names)}): {step}."


def doubts(
    draft: NoteDraft, figures: NoteFigures, neighbours: Sequence[NoteDraft], units: str = Units.METRIC
) -> list[str]:
    """What makes one note unlikely, each with what is usual; asked before it is kept."""
    out = []
    low, high = _PULL_POSSIBLE
    pull = f"{figures.tension_n:,.0f} N ({lb_of(figures.tension_n):,.0f} lb)"
    if not low <= figures.tension_n <= high:
        out.append(f"It would pull {pull} a string; usual is {_USUAL}.")
    if figures.breaking_share is not None and figures.breaking_share > 1:
        share = f"{figures.breaking_share:.0%}"
        out.append(f"It would break before it is at pitch: {share} of the breaking load, with {pull}.")
    for other in neighbours:
        out += _against(draft, other, units)
    return out


def _against(draft: NoteDraft, other: NoteDraft, units: str) -> list[str]:
    """Next to a neighbour of the same section, a string is shorter going up, by a few per cent."""
    is_same = other.section == draft.section and (other.cover_mm is None) == (draft.cover_mm is None)
    if not is_same:
        return []
    low, high = (draft, other) if draft.note < other.note else (other, draft)
    ratio = high.length_mm / low.length_mm
    if 0.85 < ratio < 1:
        return []
    return [
        f"Note {low.note} has {_long(low.length_mm, units)} and note {high.note} "
        f"{_long(high.length_mm, units)}; usual is 1 to 10 % less from note to note."
    ]
