"""Action sums: how heavy a key plays, how much of that is friction, and what a key lead does about it.

Lead is a poison: never file or sand it, keep food away, wash after. Local codes and licensed practice rule.
"""

from __future__ import annotations

from collections.abc import Mapping
from statistics import median
from typing import NamedTuple

from shopflow.compute.errors import ComputeError
from shopflow.compute.guards import number, some, whole

# A practitioner on a technicians' list, 2003, and a post on balance weight: what well kept actions show.
USUAL_BALANCE_G = (35.0, 43.0)
USUAL_FRICTION_G = (8.0, 17.0)
# Common practice, no source: how far a key may lie from its neighbours before a hand feels it.
_NEIGHBOURS = 6
_APART_BALANCE_G = 4.0
_APART_FRICTION_G = 4.0


class Touch(NamedTuple):
    """Balance weight and friction at the front of the key, in grams."""

    balance_g: float
    friction_g: float


def balance_and_friction(down_g: float, up_g: float) -> Touch:
    """Split the two weights read at the front of a key into balance and friction; dampers lifted.

    Parameters: `down_g` smallest weight that takes the key down, 0 to 1,000 g; `up_g` largest weight that the
    key still lifts, 0 g to the down weight. Result: Touch(balance_g, friction_g).
    Errors: ComputeError for a value outside its span; an up weight over the down weight was misread.
    Source: balance = (down + up)/2, friction = (down - up)/2; technicians' list, college branch.

    >>> balance_and_friction(52, 28)
    Touch(balance_g=40.0, friction_g=12.0)
    """
    down = number("down_g", down_g, at_least=0, at_most=1000, unit="g")
    up = number("up_g", up_g, at_least=0, at_most=down, unit="g")
    return Touch((down + up) / 2, (down - up) / 2)


def lead_for(lower_by_g: float, lead_at_mm: float, felt_at_mm: float) -> float:
    """Tell the lead that lowers the balance weight of a key by this much; friction does not change.

    Parameters: `lower_by_g` how much lighter the key is to play, 0 to 200 g; `lead_at_mm` distance of the
    lead in front of the balance rail pin, `felt_at_mm` distance of the point where weights are read, each 1
    to 1,000 mm.
    Result: g of lead. Errors: ComputeError for a value outside its span.
    Source: the lever about the balance rail, d1 W1 = d2 W2; technicians' list, January 2005, no. 166327.

    >>> lead_for(8, 120, 210)
    14.0
    """
    wanted = number("lower_by_g", lower_by_g, at_least=0, at_most=200, unit="g")
    return wanted * _place("felt_at_mm", felt_at_mm) / _place("lead_at_mm", lead_at_mm)


def lead_effect_g(lead_g: float, lead_at_mm: float, felt_at_mm: float) -> float:
    """Tell how much one lead lowers the balance weight; undoes `lead_for`.

    Parameters: `lead_g` 0 to 1,000 g; distances, errors and source as for `lead_for`. Result: g.

    >>> round(lead_effect_g(14, 130, 210), 4)
    8.6667
    """
    lead = number("lead_g", lead_g, at_least=0, at_most=1000, unit="g")
    return lead * _place("lead_at_mm", lead_at_mm) / _place("felt_at_mm", felt_at_mm)


def lead_inertia_kg_m2(lead_g: float, lead_at_mm: float) -> float:
    """Tell how much a lead slows the key: leads of the same static effect do not feel alike in fast playing.

    Parameters: `lead_g` 0 to 1,000 g; `lead_at_mm` distance from the balance rail pin, 1 to 1,000 mm.
    Result: kg m². Errors: ComputeError for a value outside its span.
    Source: second moment m x²; S. Birkett, "Static and dynamic balancing of a piano key", 2003.

    >>> round(lead_inertia_kg_m2(14, 130), 8)
    0.0002366
    """
    lead = number("lead_g", lead_g, at_least=0, at_most=1000, unit="g")
    return lead / 1000 * (_place("lead_at_mm", lead_at_mm) / 1000) ** 2


class OddKey(NamedTuple):
    """One key to look at again: `what` is "balance" or "friction", `why` is "neighbours", "low" or "high".

    `value_g` was read, `usual_g` is what its neighbours have, or the limit that it passes.
    """

    note: int
    what: str
    why: str
    value_g: float
    usual_g: float


def odd_keys(weights: Mapping[int, tuple[float, float]]) -> list[OddKey]:
    """Name the keys that play unlike their neighbours or unlike a well kept action.

    Parameters: `weights` down and up weight in g by note number, 1 to 88 of them.
    Result: OddKey in the order of the keys; a key unlike its neighbours is named for that first.
    Errors: ComputeError for a value outside its span.
    Source: medians of up to six keys on either side; the spans of 35 to 43 g and 8 to 17 g lie a little wider
    than the 38 to 40 g and 10 to 15 g that technicians' lists quote; 4 g apart is common practice, no source.

    >>> odd_keys({1: (52, 28), 2: (53, 28), 3: (66, 28), 4: (52, 27)})[0]
    OddKey(note=3, what='balance', why='neighbours', value_g=47.0, usual_g=40.0)
    """
    if not isinstance(weights, Mapping):
        raise ComputeError("weights", weights, "down and up weight in g by note number")
    keys = sorted(
        whole("note", note, at_least=1, at_most=88) for note in some("weights", weights, at_most=88)
    )
    touches = {note: balance_and_friction(*weights[note]) for note in keys}
    found = []
    for note in keys:
        near = [touches[each] for each in keys if each != note and abs(each - note) <= _NEIGHBOURS]
        balances, frictions = [each.balance_g for each in near], [each.friction_g for each in near]
        mine = touches[note]
        found += _odd(note, "balance", mine.balance_g, balances, USUAL_BALANCE_G, _APART_BALANCE_G)
        found += _odd(note, "friction", mine.friction_g, frictions, USUAL_FRICTION_G, _APART_FRICTION_G)
    return found


def _odd(
    note: int, what: str, value: float, near: list[float], span: tuple[float, float], apart: float
) -> list[OddKey]:
    usual = median(near) if len(near) >= 3 else value
    if abs(value - usual) > apart:
        return [OddKey(note, what, "neighbours", value, usual)]
    if value < span[0]:
        return [OddKey(note, what, "low", value, span[0])]
    return [OddKey(note, what, "high", value, span[1])] if value > span[1] else []


def _place(field: str, given: float) -> float:
    return number(field, given, at_least=1, at_most=1000, unit="mm")
