"""Plating sums: how thick a deposit grows, and how long it must hang in the tank.

Baths, fumes and waste hurt people: these are sums, not a method. Local codes, the safety data sheets of the
chemicals and licensed practice rule; most shops should send plating out.
"""

from __future__ import annotations

from dataclasses import dataclass

from shopflow.compute.errors import ComputeError
from shopflow.compute.guards import number

FARADAY_C_PER_MOL = 96485.33212  # CODATA


@dataclass(frozen=True, slots=True)
class Deposit:
    """A metal as its bath lays it down: `electrons` carried per atom, molar mass in g/mol, density in g/cm³.

    >>> round(DEPOSITS["nickel"].grams_per_ah, 3)
    1.095
    """

    name: str
    molar_mass_g: float
    electrons: int
    density_g_cm3: float

    def __post_init__(self) -> None:
        number("molar_mass_g", self.molar_mass_g, at_least=1, at_most=300, unit="g/mol")
        number("electrons", self.electrons, at_least=1, at_most=8)
        number("density_g_cm3", self.density_g_cm3, at_least=0.5, at_most=25, unit="g/cm³")

    @property
    def grams_per_ah(self) -> float:
        """Grams laid down per ampere-hour when every electron does its work (Faraday)."""
        return 3600 * self.molar_mass_g / (self.electrons * FARADAY_C_PER_MOL)

    @property
    def um_per_a_min_dm2(self) -> float:
        """Micrometres grown per minute at one ampere per square decimetre when no electron is wasted."""
        return self.grams_per_ah / (60 * self.density_g_cm3) * 100


# Atomic weights, valences and densities as printed in a plating supplier's table of electrochemical
# equivalents.
DEPOSITS = {
    each.name: each
    for each in (
        Deposit("nickel", 58.71, 2, 8.9),
        Deposit("copper, acid", 63.54, 2, 8.96),
        Deposit("copper, cyanide", 63.54, 1, 8.96),
        Deposit("chromium", 52.0, 6, 7.2),
        Deposit("silver", 107.87, 1, 10.5),
        Deposit("gold", 197.0, 1, 19.3),
        Deposit("tin", 118.69, 2, 7.3),
        Deposit("zinc", 65.38, 2, 7.14),
    )
}


def thickness_um(
    deposit: str | Deposit, current_a_dm2: float, minutes: float, efficiency_percent: float
) -> float:
    """Tell how thick a deposit grows, as an average over the whole area; edges grow more, hollows less.

    Parameters: `deposit` a name in DEPOSITS or a Deposit; `current_a_dm2` current per area, 0 to 500 A/dm²;
    `minutes` 0 to 100,000; `efficiency_percent` share of the current that lays metal, more than 0 to 100 %
    (from the bath's sheet; about 95 for nickel; from memory: near 100 for acid copper, 10 to 20 for
    chromium).
    Result: µm. Errors: ComputeError for an unknown deposit or a value outside its span.
    Source: Faraday's law, thickness = M I t efficiency/(z F density area).

    >>> round(thickness_um("nickel", 4, 30, 95), 2)
    23.38
    """
    density = number("current_a_dm2", current_a_dm2, at_least=0, at_most=500, unit="A/dm²")
    time = number("minutes", minutes, at_least=0, at_most=100_000, unit="min")
    return _growth(deposit, efficiency_percent) * density * time


def time_for(
    deposit: str | Deposit, thickness_um: float, current_a_dm2: float, efficiency_percent: float
) -> float:
    """Tell the minutes in the tank for a wanted average thickness; undoes the function `thickness_um`.

    Parameters: `thickness_um` 0 to 10,000 µm; `current_a_dm2` 0.001 to 500 A/dm²; `deposit` and
    `efficiency_percent` as for the function `thickness_um`. Result: minutes. Errors and source as there.

    >>> round(time_for("nickel", 23.38, 4, 95))
    30
    """
    wanted = number("thickness_um", thickness_um, at_least=0, at_most=10_000, unit="µm")
    density = number("current_a_dm2", current_a_dm2, at_least=0.001, at_most=500, unit="A/dm²")
    return wanted / (_growth(deposit, efficiency_percent) * density)


def current_a_dm2(current_a: float, area_cm2: float) -> float:
    """Turn the ampere meter's reading and the area in the tank (both faces, edges too) into current per area.

    Parameters: `current_a` 0 to 100,000 A; `area_cm2` 0.01 to 1,000,000 cm². Result: A/dm².
    Errors: ComputeError for a value outside its span. Source: definition.

    >>> current_a_dm2(25, 500)
    5.0
    """
    current = number("current_a", current_a, at_least=0, at_most=100_000, unit="A")
    return current / (number("area_cm2", area_cm2, at_least=0.01, at_most=1_000_000, unit="cm²") / 100)


def _growth(deposit: str | Deposit, efficiency_percent: float) -> float:
    """Micrometres per A·min/dm² with this bath's losses."""
    efficiency = number("efficiency_percent", efficiency_percent, above=0, at_most=100, unit="%")
    return _known(deposit).um_per_a_min_dm2 * efficiency / 100


def _known(deposit: str | Deposit) -> Deposit:
    if isinstance(deposit, Deposit):
        return deposit
    if not isinstance(deposit, str) or deposit not in DEPOSITS:
        raise ComputeError("deposit", deposit, "a Deposit or one of " + "; ".join(DEPOSITS))
    return DEPOSITS[deposit]
