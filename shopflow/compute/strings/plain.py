"""Choosing wire sizes for the plain strings: the smoothest scale that the sizes on the shelf allow.

The lengths are fixed by plate and bridge, so the stress of a note hardly depends on its wire; the size sets
the pull. Each size change makes a step, so sizes cannot be chosen note by note: the whole row is weighed at
once.
"""

from __future__ import annotations

import math
from collections.abc import Collection, Mapping
from typing import NamedTuple

from shopflow.compute.errors import ComputeError
from shopflow.compute.guards import number
from shopflow.compute.strings.given import Sizes, Strength, lengths_by_note, sizes_by_thickness
from shopflow.compute.strings.limits import measure, note_number
from shopflow.compute.strings.pitch import note_frequency_hz
from shopflow.compute.strings.tension import tension_n
from shopflow.compute.strings.wire import (
    A228_MINIMUM,
    MUSIC_WIRE_MM,
    BreakingShare,
    breaking_load_n,
    breaking_share,
)


class PlainString(NamedTuple):
    """The wire proposed for one note, with what it then carries."""

    note: int
    size: float
    diameter_mm: float
    tension_n: float
    breaking_share: BreakingShare


class PlainWires(NamedTuple):
    """A proposal for a row of notes, upward; `cost` compares proposals of one row, less being smoother."""

    strings: list[PlainString]
    cost: float


def propose_plain_wires(
    lengths_mm: Mapping[int, float],
    *,
    wanted_tension_n: float = 710.0,
    sizes_mm: Mapping[float, float] = MUSIC_WIRE_MM,
    highest_share: float = 0.70,
    smoothness: float = 4.0,
    strength_mpa: float | None = None,
    figure: str = A228_MINIMUM,
    a4_hz: float = 440.0,
    breaks: Collection[int] = (),
) -> PlainWires:
    """Propose a wire size for each plain note, so that tension and breaking share run as smoothly as can be.

    Parameters: `lengths_mm` speaking length of each note number; `wanted_tension_n` pull to keep near;
    `sizes_mm` diameters on the shelf by size; `highest_share` of the breaking load that no string may pass,
    0.01 to 1; `smoothness` weight of an even run against the wanted pull, 0 to 1,000; `strength_mpa` or
    `figure` the strength to reckon by (see `breaking_share`); `a4_hz` pitch; `breaks` the first note of each
    further section: there lengths jump, so the step over the break costs nothing and wire may get thicker
    again. Inside a section, going up, the wire never gets thicker.
    Result: PlainWires, the best of all rows of sizes: least sum over notes of ln(T/wanted)², plus
    `smoothness` times ln(T/T')² + ln(share/share')² over neighbours in the list that no break parts.
    Errors: ComputeError, also naming a note that no size can carry within the highest share.
    Source: dynamic programming (R. Bellman 1957, from memory); the weighing and the share of 0.70 are common
    practice, no source; 710 N is the mean of eight plain strings in a published model of a concert grand. A
    proposal, not a permission: an old plate may ask for less pull; local codes and licensed practice rule.

    >>> [each.size for each in propose_plain_wires({49: 400, 50: 378, 51: 358}).strings]
    [16.5, 16.5, 16.5]
    """
    wanted = measure("wanted_tension_n", wanted_tension_n, "tension_n")
    limit = number("highest_share", highest_share, at_least=0.01, at_most=1)
    weight = number("smoothness", smoothness, at_least=0, at_most=1000)
    strength: Strength = {"strength_mpa": strength_mpa, "figure": figure}
    sizes = sizes_by_thickness("sizes_mm", sizes_mm)
    columns = [
        _strong_enough(note, length_mm, note_frequency_hz(note, a4_hz), sizes, strength, limit)
        for note, length_mm in lengths_by_note(lengths_mm)
    ]
    return _smoothest(columns, wanted, weight, {note_number(each) for each in breaks})


def _smoothest(
    columns: list[list[PlainString]], wanted: float, weight: float, breaks: set[int]
) -> PlainWires:
    """Walk upward through the notes, keeping for each size of a note the best way to have come to it."""
    ways = [([each], _pull_off(each, wanted)) for each in columns[0]]
    for column in columns[1:]:
        if column[0].note in breaks:
            path, cost = min(ways, key=lambda way: way[1])
            ways = [([*path, each], cost + _pull_off(each, wanted)) for each in column]
        else:
            ways = [_best_way_to(each, ways, wanted, weight) for each in column]
    strings, cost = min(ways, key=lambda way: way[1])
    return PlainWires(strings, cost)


def _best_way_to(
    string: PlainString, ways: list[tuple[list[PlainString], float]], wanted: float, weight: float
) -> tuple[list[PlainString], float]:
    thick_enough = (way for way in ways if way[0][-1].diameter_mm >= string.diameter_mm)
    costs = ((way[1] + weight * _step(way[0][-1], string), way[0]) for way in thick_enough)
    cost, path = min(costs, key=lambda priced: priced[0], default=(math.inf, []))
    return [*path, string], cost + _pull_off(string, wanted)


def _pull_off(string: PlainString, wanted: float) -> float:
    return math.log(string.tension_n / wanted) ** 2


def _step(below: PlainString, above: PlainString) -> float:
    pull = math.log(above.tension_n / below.tension_n)
    share = math.log(above.breaking_share / below.breaking_share)
    return pull**2 + share**2


def _strong_enough(
    note: int, length_mm: float, frequency_hz: float, sizes: Sizes, strength: Strength, limit: float
) -> list[PlainString]:
    """The wires that can carry this note; lengths out of all measure are named here, before any other sum."""
    pulls = [(size, mm, tension_n(frequency_hz, length_mm, mm)) for size, mm in sizes]
    shares = [pull / breaking_load_n(mm, **strength) for _, mm, pull in pulls]
    if min(shares) > limit:
        allowed = f"a speaking length on which some size carries {limit:.0%} or less of its breaking load"
        raise ComputeError("lengths_mm", f"note {note}, share {min(shares):.2f} at best", allowed)
    strong = (wire for wire, share in zip(pulls, shares, strict=True) if share <= limit)
    return [PlainString(note, *wire, breaking_share(wire[2], wire[1], **strength)) for wire in strong]
