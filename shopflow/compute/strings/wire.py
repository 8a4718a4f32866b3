"""Music wire: its sizes, its strength, and how near to breaking a string is.

Strengths: ASTM A228/A228M, steel wire, music spring quality, as reproduced on a wire maker's page; 355 ksi
stands for the page's 255 at 0.036 in, an evident misprint. That is spring wire: piano wire sold today is
stronger, 2620 to 2930 MPa being quoted for one make. Old, rusted or kinked wire is weaker than any table.
"""

from __future__ import annotations

import math
from bisect import bisect_left

from shopflow.compute.guards import number, one_of
from shopflow.compute.strings.limits import measure

_MPA_PER_KSI = 6.894757293168361

# Trade sizes: thousandths of an inch = 5 + 2 x size, half sizes too (two public tables and a list message of
# 2004).
MUSIC_WIRE_MM = {size / 2: round((5 + size) * 0.0254, 4) for size in range(24, 49)} | {25.0: 1.397}
# The metric series bears the same numbers on other wire (technicians' list, June 2003, no. 136827).
MUSIC_WIRE_METRIC_MM = {size / 2: round(0.725 + (size - 24) * 0.025, 3) for size in range(24, 45)} | {
    23.0: 1.3,
    23.5: 1.35,
    24.0: 1.4,
    25.0: 1.5,
}

# Diameter in thousandths of an inch: least and greatest tensile strength in ksi.
_A228 = {
    20: (350, 387), 22: (345, 382), 24: (341, 377), 26: (337, 373), 28: (333, 368), 30: (330, 365),
    32: (327, 361), 34: (324, 358), 36: (321, 355), 38: (318, 352), 40: (315, 349), 42: (313, 346),
    45: (309, 342), 48: (306, 339), 51: (303, 335), 55: (300, 331), 59: (296, 327), 63: (293, 324),
    67: (290, 321), 72: (287, 317), 76: (284, 314), 80: (282, 312), 85: (279, 308), 90: (276, 305),
    95: (274, 303), 100: (271, 300),
}  # fmt: skip
_A228_MILS = tuple(_A228)

A228_MINIMUM = "ASTM A228 minimum"
A228_MAXIMUM = "ASTM A228 maximum"
POWER_LAW = "power law"
FIGURES = (A228_MINIMUM, A228_MAXIMUM, POWER_LAW)


class BreakingShare(float):
    """A share of the breaking load that carries along the strength it was reckoned by."""

    strength_mpa: float
    figure: str

    def __new__(cls, share: float, strength_mpa: float, figure: str) -> BreakingShare:
        made = super().__new__(cls, share)
        made.strength_mpa, made.figure = strength_mpa, figure
        return made

    def __getnewargs__(self) -> tuple[float, float, str]:  # type: ignore[override]
        return float(self), self.strength_mpa, self.figure


def wire_strength_mpa(diameter_mm: float, figure: str = A228_MINIMUM) -> float:
    """Look up the tensile strength of music wire of this thickness.

    Parameters: `diameter_mm` 0.508 to 2.54 mm; `figure` which published strength, one of FIGURES. Result:
    MPa.
    Errors: ComputeError for a value outside its span.
    Source: ASTM A228 (see above), straight lines between its rows; the power law S = A/d^m, A 2060 MPa mm^m,
    m 0.163, FE Reference Handbook: about 5 % under the A228 minimum (its 186 ksi in^m, printed as the same
    figure, would meet that minimum; the lower one is taken).

    >>> round(wire_strength_mpa(1.016))
    2172
    """
    if one_of("figure", figure, FIGURES) == POWER_LAW:
        law_mm = number("diameter_mm", diameter_mm, at_least=0.1, at_most=8, unit="mm")
        return float(2060 / law_mm**0.163)
    table_mm = number("diameter_mm", diameter_mm, at_least=0.508, at_most=2.54, unit="mm")
    return _tabled_ksi(table_mm / 0.0254, column=FIGURES.index(figure)) * _MPA_PER_KSI


def breaking_load_n(
    diameter_mm: float, *, strength_mpa: float | None = None, figure: str = A228_MINIMUM
) -> float:
    """Tell the pull at which a wire breaks, new and straight.

    Parameters: `diameter_mm` of the plain wire or core, 0.05 to 20 mm; `strength_mpa` the maker's own figure,
    100 to 5,000 MPa; without it `figure` is looked up by `wire_strength_mpa`. Result: N. Errors:
    ComputeError.
    Source: strength times cross-section. Coils, bends, age and rust take from it.

    >>> round(breaking_load_n(1.016))
    1761
    """
    strength, _ = _strength(diameter_mm, strength_mpa, figure)
    return strength * math.pi * measure("diameter_mm", diameter_mm) ** 2 / 4


def breaking_share(
    tension_n: float, diameter_mm: float, *, strength_mpa: float | None = None, figure: str = A228_MINIMUM
) -> BreakingShare:
    """Tell how much of its breaking load a string carries, and by which strength figure.

    Parameters: `tension_n` to 50,000 N; `diameter_mm`, `strength_mpa` and `figure` as for `breaking_load_n`
    (for a wound string the core alone carries). Result: a number (1 breaks) with `.strength_mpa` and
    `.figure` beside it.
    Errors: ComputeError. Source: tension over breaking load. A low share does not make old wire safe: eye
    protection, faces out of the string line; local codes and licensed practice rule.

    >>> share = breaking_share(800, 1.016)
    >>> round(share, 3), share.figure
    (0.454, 'ASTM A228 minimum')
    """
    strength, name = _strength(diameter_mm, strength_mpa, figure)
    load = strength * math.pi * measure("diameter_mm", diameter_mm) ** 2 / 4
    return BreakingShare(measure("tension_n", tension_n) / load, strength, name)


def _strength(diameter_mm: float, strength_mpa: float | None, figure: str) -> tuple[float, str]:
    if strength_mpa is None:
        return wire_strength_mpa(diameter_mm, figure), figure
    return number("strength_mpa", strength_mpa, at_least=100, at_most=5000, unit="MPa"), "as given"


def _tabled_ksi(mils: float, column: int) -> float:
    above = min(max(bisect_left(_A228_MILS, mils), 1), len(_A228_MILS) - 1)
    thin, thick = _A228_MILS[above - 1], _A228_MILS[above]
    share = (mils - thin) / (thick - thin)
    return _A228[thin][column] * (1 - share) + _A228[thick][column] * share
