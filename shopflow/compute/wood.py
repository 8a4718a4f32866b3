"""Belly sums about wood: the moisture it takes from a room's air, and how far it then swells or shrinks.

Wood Handbook = USDA Forest Products Laboratory, *Wood Handbook*, FPL-GTR-190 (2010). Its figures are
practical averages over species (the laboratory's own caution, FPL-GTR-229, 2014): a pin meter or the wood
itself may differ.
"""

from __future__ import annotations

from typing import Literal, NamedTuple

from shopflow.compute.guards import number, one_of

Direction = Literal["radial", "tangential"]


class Swelling(NamedTuple):
    """Share of its width that a species gains per percent of moisture, both ways across the grain."""

    radial: float
    tangential: float


# Wood Handbook ch. 13, Table 13-5. Hardwoods and the white fir were seen on the handbook's page, the other
# softwoods and the three tropical woods only in a second copy.
SWELLING = {
    "ash, white": Swelling(0.00169, 0.00274),
    "basswood, American": Swelling(0.00230, 0.00330),
    "beech, American": Swelling(0.00190, 0.00431),
    "birch, yellow": Swelling(0.00256, 0.00338),
    "cherry, black": Swelling(0.00126, 0.00248),
    "elm, American": Swelling(0.00144, 0.00338),
    "maple, black": Swelling(0.00165, 0.00353),
    "maple, red": Swelling(0.00137, 0.00289),
    "maple, silver": Swelling(0.00102, 0.00252),
    "maple, sugar": Swelling(0.00165, 0.00353),
    "oak, red": Swelling(0.00158, 0.00369),
    "oak, white": Swelling(0.00180, 0.00365),
    "walnut, black": Swelling(0.00190, 0.00274),
    "yellow-poplar": Swelling(0.00158, 0.00289),
    "Douglas-fir, coast": Swelling(0.00165, 0.00267),
    "fir, white": Swelling(0.00112, 0.00245),
    "pine, eastern white": Swelling(0.00071, 0.00212),
    "pine, sugar": Swelling(0.00099, 0.00194),
    "spruce, black": Swelling(0.00141, 0.00237),
    "spruce, Engelmann": Swelling(0.00130, 0.00248),
    "spruce, red": Swelling(0.00130, 0.00274),
    "spruce, Sitka": Swelling(0.00148, 0.00263),
    "spruce, white": Swelling(0.00130, 0.00274),
    "khaya": Swelling(0.00141, 0.00201),
    "mahogany, American": Swelling(0.00172, 0.00238),
    "teak": Swelling(0.00101, 0.00186),
}


def equilibrium_moisture(temp_c: float, rh: float) -> float:
    """Tell the moisture at which wood settles when it rests long enough in this air.

    Parameters: `temp_c` air temperature, -2 to 100 °C (the span of the published table); `rh` relative
    humidity, 0 to 100 %. Result: percent of the dry weight. Errors: ComputeError for a value outside its
    span.
    Source: Wood Handbook, ch. 4, equation 4-5 in °C (fit by W. T. Simpson 1973), which meets Table 4-2 within
    0.06.

    >>> round(equilibrium_moisture(21.1, 50), 1)
    9.2
    """
    t = number("temp_c", temp_c, at_least=-2, at_most=100, unit="°C")
    h = number("rh", rh, at_least=0, at_most=100, unit="%") / 100
    w = 349 + 1.29 * t + 0.0135 * t**2
    kh = (0.805 + 0.000736 * t - 0.00000273 * t**2) * h
    k1 = 6.27 - 0.00938 * t - 0.000303 * t**2
    k2 = 1.91 + 0.0407 * t - 0.000293 * t**2
    bound = (k1 * kh + 2 * k1 * k2 * kh**2) / (1 + k1 * kh + k1 * k2 * kh**2)
    return 1800 / w * (kh / (1 - kh) + bound)


def swelling(species: str, direction: Direction) -> float:
    """Look up how much of its width a wood gains per percent of moisture.

    Parameters: `species` one of SWELLING; `direction` "radial" (the width of quarter-sawn wood, such as a
    soundboard) or "tangential" (the width of flat-sawn wood). Result: share of width per percent moisture.
    Errors: ComputeError naming the species or directions known. Source: Wood Handbook, ch. 13, Table 13-5.

    >>> swelling("spruce, Sitka", "radial")
    0.00148
    """
    known = SWELLING[one_of("species", species, SWELLING)]
    return known[Swelling._fields.index(one_of("direction", direction, Swelling._fields))]


def movement_mm(width_mm: float, from_percent: float, to_percent: float, per_percent: float) -> float:
    """Tell how far a width of wood moves when its moisture changes: more than 0 swells, less than 0 shrinks.

    Parameters: `width_mm` width across the grain at the first moisture, more than 0 to 10,000 mm;
    `from_percent` and `to_percent` moisture, 0 to 30 % (wood does not move above that); `per_percent` share
    of width per percent moisture, from `swelling`. Result: mm. Errors: ComputeError for a value outside its
    span.
    Source: Wood Handbook, ch. 13, equation 13-2 where both moistures lie within 6 to 14 %; outside, equation
    13-3
    (from memory), with the total shrinkage S put back out of the coefficient by C = 1/(3000/S - 20).

    >>> round(movement_mm(1400, 8, 6, swelling("spruce, Sitka", "radial")), 3)
    -4.144
    """
    width = number("width_mm", width_mm, above=0, at_most=10_000, unit="mm")
    first = number("from_percent", from_percent, at_least=0, at_most=30, unit="%")
    last = number("to_percent", to_percent, at_least=0, at_most=30, unit="%")
    share = number("per_percent", per_percent, above=0, at_most=0.01, unit="of the width per percent")
    if all(6 <= each <= 14 for each in (first, last)):
        return width * share * (last - first)
    return width * (last - first) / (1 / share - 10 + first)
