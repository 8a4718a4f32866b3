"""What every proposal is given, checked and put in order: lengths of the notes, sizes on the shelf."""

from __future__ import annotations

from collections.abc import Mapping
from typing import TypedDict

from shopflow.compute.errors import ComputeError
from shopflow.compute.guards import some
from shopflow.compute.strings.limits import measure, note_number

Sizes = list[tuple[float, float]]


class Strength(TypedDict):
    """By which strength a wire is reckoned, as `breaking_share` takes it."""

    strength_mpa: float | None
    figure: str


def lengths_by_note(lengths_mm: Mapping[int, float]) -> list[tuple[int, float]]:
    """Put the notes and their speaking lengths in order, upward.

    >>> lengths_by_note({50: 378, 49: 400})
    [(49, 400.0), (50, 378.0)]
    """
    if not isinstance(lengths_mm, Mapping):
        raise ComputeError("lengths_mm", lengths_mm, "a speaking length in mm by note number")
    notes = some("lengths_mm", lengths_mm, at_most=88)
    return sorted((note_number(note), measure("lengths_mm", lengths_mm[note], "length_mm")) for note in notes)


def sizes_by_thickness(field: str, sizes_mm: Mapping[float, float]) -> Sizes:
    """Put the sizes and their diameters in order, thin to thick: of two as good the thinner is taken.

    >>> sizes_by_thickness("sizes_mm", {17: 0.9906, 16: 0.9398})
    [(16, 0.9398), (17, 0.9906)]
    """
    if not isinstance(sizes_mm, Mapping):
        raise ComputeError(field, sizes_mm, "a diameter in mm by size")
    sizes = some(field, sizes_mm, at_most=200)
    return sorted(
        ((size, measure(field, sizes_mm[size], "diameter_mm")) for size in sizes), key=lambda size: size[1]
    )
