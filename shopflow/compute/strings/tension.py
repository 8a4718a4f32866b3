"""The ideal string: tension, pitch and mass per metre, and what all strings together pull."""

from __future__ import annotations

import math
from collections.abc import Iterable
from typing import NamedTuple

from shopflow.compute.errors import ComputeError
from shopflow.compute.guards import some, whole
from shopflow.compute.strings.limits import STEEL_KG_M3, measure


class Section(NamedTuple):
    """Strings of one kind: the name of their section, the tension of each, and how many there are."""

    name: str
    tension_n: float
    strings: int


class Loads(NamedTuple):
    """What the plate carries, in N: the whole, and section by section."""

    total_n: float
    strings: int
    by_section_n: dict[str, float]


def plain_linear_density(diameter_mm: float, density_kg_m3: float = STEEL_KG_M3) -> float:
    """Tell the mass of a metre of plain wire.

    Parameters: `diameter_mm` 0.05 to 20 mm; `density_kg_m3` 500 to 100,000 kg/m³ (steel 7850).
    Result: g/m. Errors: ComputeError for a value outside its span. Source: density times cross-section.

    >>> round(plain_linear_density(1.016), 4)
    6.3642
    """
    section_mm2 = math.pi * measure("diameter_mm", diameter_mm) ** 2 / 4
    return measure("density_kg_m3", density_kg_m3) * section_mm2 / 1000


def tension_n(
    frequency_hz: float,
    length_mm: float,
    diameter_mm: float | None = None,
    *,
    density_kg_m3: float = STEEL_KG_M3,
    linear_density_g_m: float | None = None,
) -> float:
    """Tell the pull of one string at pitch, from a plain wire's diameter or any string's mass per metre.

    Parameters: `frequency_hz` 1 to 20,000 Hz; `length_mm` speaking length, 10 to 10,000 mm; either
    `diameter_mm` 0.05 to 20 mm with `density_kg_m3`, or `linear_density_g_m` 0.01 to 5,000 g/m (see
    `wound_linear_density`).
    Result: N. Errors: ComputeError for a value outside its span, or for both or neither of diameter and mass.
    Source: the ideal string, T = 4 L² f² mu; stiffness is left out. A tight string can blind: a sum is no
    permission; local codes and licensed practice rule.

    >>> round(tension_n(392.0, 489, 0.966, density_kg_m3=7833), 1)
    843.8
    """
    f, metres = measure("frequency_hz", frequency_hz), measure("length_mm", length_mm) / 1000
    return 4 * (metres * f) ** 2 * _g_per_m(diameter_mm, density_kg_m3, linear_density_g_m) / 1000


def string_frequency_hz(
    tension_n: float,
    length_mm: float,
    diameter_mm: float | None = None,
    *,
    density_kg_m3: float = STEEL_KG_M3,
    linear_density_g_m: float | None = None,
) -> float:
    """Tell the pitch of a string from its pull; undoes the function `tension_n`.

    Parameters: `tension_n` up to 50,000 N; the others, and errors, as for the function `tension_n`.
    Result: Hz. Source: the ideal string, f = sqrt(T/mu)/(2 L).

    >>> round(string_frequency_hz(765, 400, linear_density_g_m=7.5), 1)
    399.2
    """
    metres, pull = measure("length_mm", length_mm) / 1000, measure("tension_n", tension_n)
    mass = _g_per_m(diameter_mm, density_kg_m3, linear_density_g_m) / 1000
    return math.sqrt(pull / mass) / (2 * metres)


def load_sums(sections: Iterable[Section | tuple[str, float, int]]) -> Loads:
    """Add up what all strings pull on the plate, whole and by section (rows of one section are added up).

    Parameters: `sections` rows of section name, tension of one string in N, number of such strings (1 to
    1,000).
    Result: Loads. Errors: ComputeError. Source: addition. A load for comparing scales, never a test of a
    plate: whether a plate or a frame may carry it is for licensed practice to say.

    >>> load_sums([("bass", 900, 2), ("treble", 700, 3)]).total_n
    3900.0
    """
    by_section: dict[str, float] = {}
    strings = 0
    for row in some("sections", sections, at_most=1000):
        name, tension, count = _section(row)
        pull = measure("tension_n", tension) * whole("strings", count, at_least=1, at_most=1000)
        by_section[name] = by_section.get(name, 0.0) + pull
        strings += count
    return Loads(math.fsum(by_section.values()), strings, by_section)


def _section(row: Section | tuple[str, float, int]) -> Section:
    if not isinstance(row, tuple) or len(row) != 3 or not isinstance(row[0], str):
        raise ComputeError("sections", row, "rows of section name, tension in N, number of strings")
    return Section(*row)


def _g_per_m(diameter_mm: float | None, density_kg_m3: float, linear_density_g_m: float | None) -> float:
    if diameter_mm is not None and linear_density_g_m is None:
        return plain_linear_density(diameter_mm, density_kg_m3)
    if linear_density_g_m is not None and diameter_mm is None:
        return measure("linear_density_g_m", linear_density_g_m)
    given = (diameter_mm, linear_density_g_m)
    raise ComputeError("diameter_mm", given, "either a diameter or a linear_density_g_m, not both")
