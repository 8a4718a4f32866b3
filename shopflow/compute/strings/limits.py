"""The spans in which every string sum works: wide enough for any piano, too narrow for a slipped point."""

from __future__ import annotations

from shopflow.compute.guards import number, whole

STEEL_KG_M3 = 7850.0  # Carbon steel, property tables; music wire is quoted at 7800 to 7850.
COPPER_KG_M3 = 8960.0  # Pure copper, property table; electrolytic copper 8890.

_SPANS: dict[str, tuple[float, float, str]] = {
    "frequency_hz": (1, 20_000, "Hz"),
    "length_mm": (10, 10_000, "mm"),
    "diameter_mm": (0.05, 20, "mm"),
    "tension_n": (0.000001, 50_000, "N"),
    # The top is far over any metal: some tables give a wound string as one dense wire.
    "density_kg_m3": (500, 100_000, "kg/m³"),
    "linear_density_g_m": (0.01, 5_000, "g/m"),
}


def measure(field: str, given: float, like: str | None = None) -> float:
    """Hand back a measure inside its span; `like` names the kind where the field has a name of its own.

    >>> measure("core_mm", 1, like="diameter_mm")
    1.0
    """
    low, high, unit = _SPANS[like or field]
    return number(field, given, at_least=low, at_most=high, unit=unit)


def note_number(given: int) -> int:
    """Hand back a note of the piano, 1 (A0) to 88 (C8).

    >>> note_number(49)
    49
    """
    return whole("note", given, at_least=1, at_most=88)
