"""Finishing sums: is the air fit for a coat, and what film do the coats leave.

One micrometre of film over one square metre is one millilitre, which is all that the film sums rest on.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

from shopflow.compute.guards import number, some

# D. Sonntag 1990, in WMO Guide no. 8, annex 4.B: dew point over water.
_SLOPE = 17.62
_SPAN_C = 243.12


@dataclass(frozen=True, slots=True)
class CoatingAir:
    """Whether a coat may go on, and the figures that say so; true in an `if` exactly when it may.

    `objections` holds a plain sentence for each thing that speaks against it.
    """

    dew_point_c: float
    lowest_surface_c: float
    objections: tuple[str, ...]

    def __bool__(self) -> bool:
        return not self.objections


def dew_point_c(temp_c: float, rh: float) -> float:
    """Tell the temperature at which this air begins to wet a surface.

    Parameters: `temp_c` air, -45 to 60 °C; `rh` relative humidity, more than 0 to 100 %. Result: °C.
    Errors: ComputeError for a value outside its span.
    Source: WMO Guide no. 8, annex 4.B (D. Sonntag 1990), T_d = 243.12 g/(17.62 - g).

    >>> round(dew_point_c(20, 60), 1)
    12.0
    """
    t = number("temp_c", temp_c, at_least=-45, at_most=60, unit="°C")
    g = math.log(number("rh", rh, above=0, at_most=100, unit="%") / 100) + _SLOPE * t / (_SPAN_C + t)
    return _SPAN_C * g / (_SLOPE - g)


def may_coat(
    temp_c: float, rh: float, surface_c: float, *, margin_c: float = 3.0, highest_rh: float = 85.0
) -> CoatingAir:
    """Say whether a surface is safely dry enough to coat, and if not, why.

    Parameters: `temp_c` air, `surface_c` the work itself, °C; `rh` relative humidity, %; `margin_c` how far
    the surface must be above the dew point (3 °C; some sheets say 5 °F, which is 2.8 °C); `highest_rh` air
    must be drier than this.
    Result: CoatingAir, true when the coat may go on. Errors: ComputeError for a value outside its span.
    Source: at least 3 °C above the dew point and below 85 %RH, a galvanizing manual and a coating article
    citing ISO 8502-4 and ISO 12944-7. Written for steel: for wood and plates it is a caution only, and it
    knows nothing of fumes, fire or the finish itself. The product's safety data sheet, local codes and
    licensed practice rule.

    >>> bool(may_coat(20, 65, 17)), bool(may_coat(20, 65, 16))
    (True, False)
    """
    surface = number("surface_c", surface_c, at_least=-45, at_most=100, unit="°C")
    margin = number("margin_c", margin_c, at_least=0, at_most=30, unit="°C")
    limit = number("highest_rh", highest_rh, above=0, at_most=100, unit="%")
    dew = dew_point_c(temp_c, rh)
    objections = []
    if surface < dew + margin:
        objections.append(
            f"surface {surface:.1f} °C is under {dew + margin:.1f} °C (dew point + {margin:.1f} °C)"
        )
    if rh >= limit:
        objections.append(f"air at {rh:.0f} %RH is not below {limit:.0f} %RH")
    return CoatingAir(dew, dew + margin, tuple(objections))


def dry_from_wet(wet_um: float, volume_solids_percent: float, thinner_percent: float = 0.0) -> float:
    """Tell the dry film that a wet film leaves.

    Parameters: `wet_um` wet film, 0 to 10,000 µm; `volume_solids_percent` solids by volume from the product's
    sheet, 0.1 to 100 %; `thinner_percent` thinner added, by volume of what is thinned, 0 to 1,000 %.
    Result: µm. Errors: ComputeError for a value outside its span.
    Source: a thickness-gauge maker's formula page; dry = wet x solids/(1 + thinner).

    >>> round(dry_from_wet(200, 35), 1), round(dry_from_wet(200, 35, 10), 1)
    (70.0, 63.6)
    """
    wet = number("wet_um", wet_um, at_least=0, at_most=10_000, unit="µm")
    return wet * _solids_as_sprayed(volume_solids_percent, thinner_percent)


def wet_for_dry(dry_um: float, volume_solids_percent: float, thinner_percent: float = 0.0) -> float:
    """Tell the wet film to lay (and read on the comb) so that this dry film remains; undoes `dry_from_wet`.

    Parameters, errors and source as for `dry_from_wet`, with `dry_um` 0 to 10,000 µm. Result: µm.

    >>> round(wet_for_dry(70, 35))
    200
    """
    dry = number("dry_um", dry_um, at_least=0, at_most=10_000, unit="µm")
    return dry / _solids_as_sprayed(volume_solids_percent, thinner_percent)


def coverage_m2_per_l(dry_um: float, volume_solids_percent: float) -> float:
    """Tell how far a litre of unthinned product goes on paper; overspray and waste come off that.

    Parameters: `dry_um` dry film wanted, 0.1 to 10,000 µm; `volume_solids_percent` 0.1 to 100 %.
    Result: m²/L. Errors: ComputeError for a value outside its span.
    Source: a coating maker's sheet "Theoretical spreading rate": 1000 x solids/dry film, 5.2 m²/L for 65 %,
    125 µm.
    (That sheet's own formula line prints 100; its example uses 1000.)

    >>> coverage_m2_per_l(125, 65)
    5.2
    """
    dry = number("dry_um", dry_um, at_least=0.1, at_most=10_000, unit="µm")
    return 1000 * _solids_as_sprayed(volume_solids_percent, 0) / dry


def coats_for(
    dry_um: float, wet_um: float, volume_solids_percent: float, thinner_percent: float = 0.0
) -> int:
    """Count the coats that build at least this dry film. Add what sanding and rubbing out will take off.

    Parameters: `dry_um` film wanted, 0 to 10,000 µm; `wet_um` wet film of each coat, 1 to 10,000 µm; the
    others as for `dry_from_wet`. Result: whole coats. Errors: ComputeError for a value outside its span.
    Source: follows from `dry_from_wet`. How many coats a finish bears, and when, is on the product's sheet.

    >>> coats_for(100, 100, 20)
    5
    """
    wanted = number("dry_um", dry_um, at_least=0, at_most=10_000, unit="µm")
    each = dry_from_wet(
        number("wet_um", wet_um, at_least=1, at_most=10_000, unit="µm"),
        volume_solids_percent,
        thinner_percent,
    )
    # Seven coats of 25.4 must count as 177.8: rounding in the last bit is not worth a coat.
    return math.ceil(wanted / each * (1 - 1e-12))


def mix_ml(total_ml: float, parts: Sequence[float]) -> list[float]:
    """Split a mixing pot by a ratio such as 4 : 1 : 0.5.

    Parameters: `total_ml` volume wanted, more than 0 to 1,000,000 mL; `parts` by volume, each 0 or more, not
    all 0.
    Result: mL of each part. Errors: ComputeError. Source: plain proportion; common practice, no source. A
    percentage of thinner is normally on base and hardener together: the product's sheet says which.

    >>> [round(each, 2) for each in mix_ml(1000, [4, 1, 0.5])]
    [727.27, 181.82, 90.91]
    """
    total = number("total_ml", total_ml, above=0, at_most=1_000_000, unit="mL")
    shares = [number("parts", each, at_least=0, at_most=1_000_000) for each in some("parts", parts)]
    whole = number("parts", sum(shares), above=0, unit="parts in all")
    return [total * share / whole for share in shares]


def _solids_as_sprayed(volume_solids_percent: float, thinner_percent: float) -> float:
    solids = number("volume_solids_percent", volume_solids_percent, at_least=0.1, at_most=100, unit="%")
    thinner = number("thinner_percent", thinner_percent, at_least=0, at_most=1000, unit="%")
    return solids / 100 / (1 + thinner / 100)
