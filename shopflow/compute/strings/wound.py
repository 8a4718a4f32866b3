"""Wound strings: their mass per metre, and a set of cores and wraps for a chosen pull."""

from __future__ import annotations

import math
from collections.abc import Iterable, Mapping
from typing import NamedTuple

from shopflow.compute.errors import ComputeError
from shopflow.compute.guards import number, some
from shopflow.compute.strings.given import Sizes, Strength, lengths_by_note, sizes_by_thickness
from shopflow.compute.strings.limits import COPPER_KG_M3, STEEL_KG_M3, measure
from shopflow.compute.strings.pitch import note_frequency_hz
from shopflow.compute.strings.tension import plain_linear_density, tension_n
from shopflow.compute.strings.wire import A228_MINIMUM, MUSIC_WIRE_MM, BreakingShare, breaking_share

# Round turns laid side by side fill this much of the ring they lie in.
_FILLING = math.pi / 4
_THICKEST_MM = 40


class WoundString(NamedTuple):
    """The wound string proposed for one note; tension and breaking share hold for the wrap as rounded."""

    note: int
    core_size: float
    core_mm: float
    wrap_mm: float
    outside_mm: float
    linear_density_g_m: float
    tension_n: float
    breaking_share: BreakingShare


def wound_linear_density(
    core_mm: float,
    outside_mm: float,
    *,
    core_kg_m3: float = STEEL_KG_M3,
    wrap_kg_m3: float = COPPER_KG_M3,
) -> float:
    """Tell the mass of a metre of wound string, close wound with round wire on its whole length.

    Parameters: `core_mm` core diameter, 0.05 to 20 mm; `outside_mm` diameter over the wrap, from the core's
    to 40 mm; `core_kg_m3` and `wrap_kg_m3` densities (steel 7850, copper 8960). Two layers of the same metal
    count as one.
    Result: g/m. Errors: ComputeError for a value outside its span.
    Source: geometry, core pi d²/4 and wrap (pi/4)² (D² - d²); the slope of the turns, about 1.3 % of a
    thick wrap, is left out.

    >>> round(wound_linear_density(1.0, 3.0), 3)
    50.381
    """
    core = measure("core_mm", core_mm, "diameter_mm")
    outside = number("outside_mm", outside_mm, at_least=core, at_most=_THICKEST_MM, unit="mm")
    wrap = measure("wrap_kg_m3", wrap_kg_m3, "density_kg_m3") * _FILLING**2 * (outside**2 - core**2) / 1000
    return plain_linear_density(core, measure("core_kg_m3", core_kg_m3, "density_kg_m3")) + wrap


def propose_wound_set(
    lengths_mm: Mapping[int, float],
    wanted_tension_n: float | Mapping[int, float],
    *,
    cores_mm: Mapping[float, float] = MUSIC_WIRE_MM,
    highest_share: float = 0.55,
    wrap_step_mm: float = 0.01,
    wraps_mm: Iterable[float] | None = None,
    strength_mpa: float | None = None,
    figure: str = A228_MINIMUM,
    a4_hz: float = 440.0,
) -> list[WoundString]:
    """Propose core and wrap for each bass note at a chosen pull: the thinnest core that is strong enough.

    A thin core keeps the string supple and so its partials near in tune.

    Parameters: `lengths_mm` speaking length of each note number; `wanted_tension_n` one pull for all, or one
    for each note number; `cores_mm` core diameters by size; `highest_share` of the core's breaking load, 0.01
    to 1; `wrap_step_mm` to which the wrap wire is rounded down, 0.001 to 0.5 mm; `wraps_mm` the wrap wires to
    be had, from which the next thinner one is taken instead; `strength_mpa` or `figure` the strength to
    reckon by (see `breaking_share`); `a4_hz` pitch.
    Result: WoundString for each note, upward. Errors: ComputeError, also naming a note that no core can
    carry, or that needs no wrap. Source: the ideal string and `wound_linear_density`; choice of the core, the
    share of 0.55 and the rounding are common practice, no source. A proposal, not a permission: local codes
    and licensed practice rule.

    >>> low = propose_wound_set({4: 1400}, 900)[0]
    >>> low.core_size, round(low.outside_mm, 2), round(low.tension_n)
    (17.0, 4.39, 899)
    """
    limit = number("highest_share", highest_share, at_least=0.01, at_most=1)
    step = number("wrap_step_mm", wrap_step_mm, at_least=0.001, at_most=0.5, unit="mm")
    shelf = _shelf(wraps_mm)
    strength: Strength = {"strength_mpa": strength_mpa, "figure": figure}
    cores = sizes_by_thickness("cores_mm", cores_mm)
    proposals = []
    for note, length_mm in lengths_by_note(lengths_mm):
        wanted = _wanted(note, wanted_tension_n)
        size, core = _thinnest_core(note, cores, wanted, limit, strength)
        frequency_hz = note_frequency_hz(note, a4_hz)
        wrap = _wrap_mm(
            note, wanted / tension_n(frequency_hz, length_mm, linear_density_g_m=1), core, step, shelf
        )
        mass = wound_linear_density(core, core + 2 * wrap)
        pull = tension_n(frequency_hz, length_mm, linear_density_g_m=mass)
        share = breaking_share(pull, core, **strength)
        proposals.append(WoundString(note, size, core, wrap, core + 2 * wrap, mass, pull, share))
    return proposals


def _wanted(note: int, wanted_tension_n: float | Mapping[int, float]) -> float:
    if not isinstance(wanted_tension_n, Mapping):
        return measure("wanted_tension_n", wanted_tension_n, "tension_n")
    if note not in wanted_tension_n:
        raise ComputeError("wanted_tension_n", f"nothing for note {note}", "a pull for each note")
    return measure("wanted_tension_n", wanted_tension_n[note], "tension_n")


def _thinnest_core(
    note: int, cores: Sizes, wanted_n: float, limit: float, strength: Strength
) -> tuple[float, float]:
    strong = (core for core in cores if breaking_share(wanted_n, core[1], **strength) <= limit)
    core = next(strong, None)
    if core is None:
        given = f"note {note}, {wanted_n:.0f} N"
        raise ComputeError("wanted_tension_n", given, f"a pull that some core carries at {limit:.0%}")
    return core


def _shelf(wraps_mm: Iterable[float] | None) -> list[float] | None:
    if wraps_mm is None:
        return None
    wires = some("wraps_mm", wraps_mm, at_most=500)
    return sorted(measure("wraps_mm", each, "diameter_mm") for each in wires)


def _wrap_mm(
    note: int, wanted_g_m: float, core_mm: float, step_mm: float, shelf: list[float] | None
) -> float:
    """The wrap that makes up the mass, rounded down, so that the pull never passes the wanted one."""
    missing = wanted_g_m - plain_linear_density(core_mm)
    outside_mm = math.sqrt(core_mm**2 + max(0.0, missing) * 1000 / (COPPER_KG_M3 * _FILLING**2))
    if outside_mm > _THICKEST_MM:
        given = f"note {note}, {wanted_g_m:.0f} g/m"
        raise ComputeError(
            "lengths_mm", given, f"a speaking length that needs less than {_THICKEST_MM} mm of string"
        )
    if shelf is not None:
        thin_enough = [each for each in shelf if each <= (outside_mm - core_mm) / 2 + 1e-9]
        if not thin_enough:
            given = f"note {note}, {(outside_mm - core_mm) / 2:.3f} mm of wrap"
            raise ComputeError("wraps_mm", given, "some wrap wire as thin as that")
        return thin_enough[-1]
    steps = math.floor((outside_mm - core_mm) / 2 / step_mm + 1e-9)
    if steps < 1:
        given = f"note {note}, {wanted_g_m:.2f} g/m"
        raise ComputeError("wanted_tension_n", given, "a pull that needs a wrap; string this note plain")
    return steps * step_mm
