"""What the weights of the keys show, in words."""

from __future__ import annotations

from collections.abc import Sequence

from shopflow.compute.touch import OddKey, balance_and_friction

from .note_names import note_name
from .services.touch import POSSIBLE_DOWN_G, POSSIBLE_UP_G


def odd_in_words(odd: Sequence[OddKey]) -> list[str]:
    """Keys unlike their neighbours one by one; a stretch beside the usual together."""
    said = [_single(each) for each in odd if each.why == "neighbours"]
    for what in ("balance", "friction"):
        for why in ("high", "low"):
            said += _stretches([each for each in odd if (each.what, each.why) == (what, why)])
    return said


def _single(each: OddKey) -> str:
    way = "more" if each.value_g > each.usual_g else "less"
    return (
        f"Key {each.note} ({note_name(each.note)}): {each.what} {each.value_g:g} g, {way} than its "
        f"neighbours with {each.usual_g:g} g."
    )


def _stretches(odd: Sequence[OddKey]) -> list[str]:
    runs: list[list[OddKey]] = []
    for each in odd:
        if runs and runs[-1][-1].note == each.note - 1:
            runs[-1].append(each)
        else:
            runs.append([each])
    return [_stretch(run) for run in runs]


def _stretch(run: Sequence[OddKey]) -> str:
    first, last = run[0], run[-1]
    where = f"Key {first.note}" if first.note == last.note else f"Keys {first.note} to {last.note}"
    low, high = min(each.value_g for each in run), max(each.value_g for each in run)
    span = f"{low:g} g" if low == high else f"{low:g} to {high:g} g"
    side = "over" if first.why == "high" else "under"
    return f"{where}: {first.what} {span}, {side} the usual {first.usual_g:g} g."


def doubts(down_g: float, up_g: float) -> list[str]:
    """What makes a reading unlikely; asked before it is kept."""
    out = []
    for name, value, (low, high) in (("Down", down_g, POSSIBLE_DOWN_G), ("Up", up_g, POSSIBLE_UP_G)):
        if not low <= value <= high:
            out.append(f"{name} weight {value:g} g; keys play with {low:g} to {high:g} g.")
    friction = balance_and_friction(down_g, up_g).friction_g
    if friction > 30 or friction < 2:
        out.append(f"Friction would be {friction:g} g; usual is 10 to 15 g.")
    return out
