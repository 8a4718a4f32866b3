"""How much one person should lift: the revised NIOSH lifting equation, for parts, tools, actions and cans.

It is a guide, not a permit. It does not hold for one-handed, seated or kneeling lifts, narrow places, loads
that shift, carrying, pushing, pulling, jerks or poor footing. Plates, cabinets and whole instruments want a
hoist, board, skid and straps, and people trained for them. Local codes and licensed practice rule.
NIOSH = T. R. Waters, V. Putz-Anderson, A. Garg, *Applications Manual for the Revised NIOSH Lifting Equation*,
DHHS (NIOSH) 94-110 (1994, revised 9/2021).
"""

from __future__ import annotations

from bisect import bisect_left
from dataclasses import dataclass
from typing import Literal

from shopflow.compute.guards import number, one_of

Grip = Literal["good", "fair", "poor"]


@dataclass(frozen=True, slots=True)
class Form:
    """One of the manual's two printed forms (lengths in mm); they differ as 10 in is not quite 25 cm."""

    load_kg: float
    reach_mm: float
    reach_limit_mm: float
    knuckle_mm: float
    loss_per_mm: float
    height_limit_mm: float
    travel_mm: float
    travel_limit_mm: float


METRIC = Form(23, 250, 630, 750, 0.0003, 1750, 45, 1750)
US = Form(51 * 0.45359237, 254, 635, 762, 0.0075 / 25.4, 1778, 1.8 * 25.4, 1778)

# NIOSH Table 5, by lifts per minute; three pairs for at most 1, 2 and 8 hours, each below and from knuckle
# height.
_FREQUENCY = {
    0.2: (1.00, 1.00, 0.95, 0.95, 0.85, 0.85),
    0.5: (0.97, 0.97, 0.92, 0.92, 0.81, 0.81),
    1: (0.94, 0.94, 0.88, 0.88, 0.75, 0.75),
    2: (0.91, 0.91, 0.84, 0.84, 0.65, 0.65),
    3: (0.88, 0.88, 0.79, 0.79, 0.55, 0.55),
    4: (0.84, 0.84, 0.72, 0.72, 0.45, 0.45),
    5: (0.80, 0.80, 0.60, 0.60, 0.35, 0.35),
    6: (0.75, 0.75, 0.50, 0.50, 0.27, 0.27),
    7: (0.70, 0.70, 0.42, 0.42, 0.22, 0.22),
    8: (0.60, 0.60, 0.35, 0.35, 0.18, 0.18),
    9: (0.52, 0.52, 0.30, 0.30, 0.00, 0.15),
    10: (0.45, 0.45, 0.26, 0.26, 0.00, 0.13),
    11: (0.41, 0.41, 0.00, 0.23, 0.00, 0.00),
    12: (0.37, 0.37, 0.00, 0.21, 0.00, 0.00),
    13: (0.00, 0.34, 0.00, 0.00, 0.00, 0.00),
    14: (0.00, 0.31, 0.00, 0.00, 0.00, 0.00),
    15: (0.00, 0.28, 0.00, 0.00, 0.00, 0.00),
}
_RATES = tuple(_FREQUENCY)
_HOURS = (1, 2, 8)
# NIOSH Table 7: below and from knuckle height.
_GRIP = {"good": (1.00, 1.00), "fair": (0.95, 1.00), "poor": (0.90, 0.90)}

# A team lifts less than the sum of its members: two people two thirds, three people half of it.
# From memory: UK Health and Safety Executive, guidance L23 on manual handling. Larger teams have no figure.
_TEAM_SHARE = {1: 1.0, 2: 2 / 3, 3: 1 / 2}


def recommended_limit(
    horizontal_mm: float,
    vertical_mm: float,
    travel_mm: float,
    *,
    turn_deg: float = 0.0,
    lifts_per_min: float = 0.2,
    hours: float = 1.0,
    grip: Grip = "good",
    origin_vertical_mm: float | None = None,
    form: Form = METRIC,
) -> float:
    """Tell the load that nearly all healthy workers can lift this way; ask at its start and at its end.

    Parameters: `horizontal_mm` hands in front of the ankles, `vertical_mm` hands above the floor, `travel_mm`
    height lifted through, `turn_deg` twist of the body, all 0 or more; `lifts_per_min`; `hours` of such work,
    to 8; `grip` good, fair or poor; `origin_vertical_mm` height at the start when asking at the end of the
    lift; `form` METRIC or US. Result: kg; 0 where it should not be lifted by hand so.
    Errors: ComputeError for a value outside its span.
    Source: NIOSH, RWL = LC x HM x VM x DM x AM x FM x CM. Above it, seek help or another way; local codes
    rule.

    >>> round(recommended_limit(250, 750, 250), 1)
    23.0
    """
    origin = vertical_mm if origin_vertical_mm is None else origin_vertical_mm
    return (
        form.load_kg
        * horizontal_multiplier(horizontal_mm, form)
        * vertical_multiplier(vertical_mm, form)
        * travel_multiplier(travel_mm, form)
        * turn_multiplier(turn_deg)
        * frequency_multiplier(lifts_per_min, hours, origin, form)
        * grip_multiplier(grip, vertical_mm, form)
    )


def lifting_index(load_kg: float, limit_kg: float) -> float:
    """Compare a load with its limit: above 1 the risk grows for some, above 3 for nearly all (NIOSH).

    Parameters: `load_kg` 0 to 10,000 kg; `limit_kg` from `recommended_limit`, 0.001 to 100 kg.
    Result: load over limit. Errors: ComputeError, also for a limit of 0: that lift has no index. Source:
    NIOSH.

    >>> lifting_index(20, 16)
    1.25
    """
    load = number("load_kg", load_kg, at_least=0, at_most=10_000, unit="kg")
    return load / number("limit_kg", limit_kg, at_least=0.001, at_most=100, unit="kg")


def people_for(load_kg: float, limit_kg: float) -> int | None:
    """Count the people for a load, or None: no number of hands, use a hoist, skid or trained movers.

    Parameters: `load_kg` 0 to 10,000 kg; `limit_kg` from `recommended_limit`, 0 to 100 kg. Result: 1, 2, 3 or
    None.
    Errors: ComputeError for a value outside its span.
    Source: from memory, UK Health and Safety Executive L23: two people lift two thirds of the sum of their
    limits, three half of it. Team lifts are outside the NIOSH equation: treat the answer as the least, and
    local codes rule.

    >>> people_for(20, 16), people_for(160, 16)
    (2, None)
    """
    load = number("load_kg", load_kg, at_least=0, at_most=10_000, unit="kg")
    limit = number("limit_kg", limit_kg, at_least=0, at_most=100, unit="kg")
    enough = (people for people, share in _TEAM_SHARE.items() if load <= people * share * limit)
    return next(enough, None)


def horizontal_multiplier(horizontal_mm: float, form: Form = METRIC) -> float:
    """Share of the limit that is left by reaching forward: 250/H, 1 when close, 0 beyond 630 mm.

    Parameters: `horizontal_mm` 0 to 10,000 mm; `form`. Result: 0 to 1. Errors: ComputeError.
    Source: NIOSH, HM.

    >>> horizontal_multiplier(500)
    0.5
    """
    reach = number("horizontal_mm", horizontal_mm, at_least=0, at_most=10_000, unit="mm")
    if reach > form.reach_limit_mm:
        return 0.0
    return min(1.0, form.reach_mm / max(reach, form.reach_mm))


def vertical_multiplier(vertical_mm: float, form: Form = METRIC) -> float:
    """Share of the limit that is left below or above knuckle height, 750 mm; 0 above 1,750 mm.

    Parameters: `vertical_mm` 0 to 10,000 mm; `form`. Result: 0 to 1. Errors: ComputeError.
    Source: NIOSH, VM.

    >>> round(vertical_multiplier(250), 2)
    0.85
    """
    height = number("vertical_mm", vertical_mm, at_least=0, at_most=10_000, unit="mm")
    return 0.0 if height > form.height_limit_mm else 1 - form.loss_per_mm * abs(height - form.knuckle_mm)


def travel_multiplier(travel_mm: float, form: Form = METRIC) -> float:
    """Share of the limit that is left by the height of the lift: 0.82 + 45/D, 1 under 250, 0 over 1,750 mm.

    Parameters: `travel_mm` 0 to 10,000 mm; `form`. Result: 0 to 1. Errors: ComputeError.
    Source: NIOSH, DM.

    >>> round(travel_multiplier(400), 4)
    0.9325
    """
    travel = number("travel_mm", travel_mm, at_least=0, at_most=10_000, unit="mm")
    if travel > form.travel_limit_mm:
        return 0.0
    return 1.0 if travel < form.reach_mm else 0.82 + form.travel_mm / travel


def turn_multiplier(turn_deg: float) -> float:
    """Share of the limit that is left by twisting the body: 1 - 0.0032 A, 0 above 135 degrees.

    Parameters: `turn_deg` 0 to 180 degrees. Result: 0 to 1. Errors: ComputeError. Source: NIOSH, AM.

    >>> round(turn_multiplier(45), 3)
    0.856
    """
    turn = number("turn_deg", turn_deg, at_least=0, at_most=180, unit="degrees")
    return 0.0 if turn > 135 else 1 - 0.0032 * turn


def frequency_multiplier(
    lifts_per_min: float, hours: float, origin_vertical_mm: float, form: Form = METRIC
) -> float:
    """Share of the limit that is left by lifting often and long.

    Parameters: `lifts_per_min` 0 to 1,000; `hours` 0 to 8; `origin_vertical_mm` hands at the start,
    0 to 10,000 mm; `form`. Result: 0 to 1. Errors: ComputeError.
    Source: NIOSH Table 5, FM; between two of its rows the stricter one is taken (our choice, to be safe).

    >>> frequency_multiplier(3, 1, 600)
    0.88
    """
    rate = number("lifts_per_min", lifts_per_min, at_least=0, at_most=1000, unit="lifts per minute")
    long = number("hours", hours, at_least=0, at_most=8, unit="hours")
    height = number("origin_vertical_mm", origin_vertical_mm, at_least=0, at_most=10_000, unit="mm")
    if rate > _RATES[-1]:
        return 0.0
    row = _FREQUENCY[_RATES[bisect_left(_RATES, rate)]]
    return row[2 * bisect_left(_HOURS, long) + (height >= form.knuckle_mm)]


def grip_multiplier(grip: Grip, vertical_mm: float, form: Form = METRIC) -> float:
    """Share of the limit that is left by what there is to hold.

    Parameters: `grip` good, fair or poor; `vertical_mm` 0 to 10,000 mm; `form`. Result: 0.9 to 1.
    Errors: ComputeError. Source: NIOSH Table 7, CM.

    >>> grip_multiplier("fair", 600)
    0.95
    """
    height = number("vertical_mm", vertical_mm, at_least=0, at_most=10_000, unit="mm")
    return _GRIP[one_of("grip", grip, _GRIP)][height >= form.knuckle_mm]
