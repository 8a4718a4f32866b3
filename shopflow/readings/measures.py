"""What hands type and what is kept: numbers in any usual spelling, units of metric and of inch shops.

A quantity is kept in one unit (the one that `compute` takes); a shop types and reads it in its own.
"""

from __future__ import annotations

import math
import re
import unicodedata
from dataclasses import dataclass
from typing import Any

from shopflow.catalogue.models import ReadingKind, Units

LONGEST = 40
_FRACTION = re.compile(r"(?:(\d{1,6}) )?(\d{1,6})/(\d{1,6})", re.ASCII)
_PLAIN = re.compile(r"\d{1,12}(?:[.,]\d{1,12})?|[.,]\d{1,12}", re.ASCII)
_THOUSANDS = re.compile(r"[1-9]\d{0,2},\d{3}", re.ASCII)
_SPLIT = re.compile(r"(?P<number>[-+]?[\d.,/ ]*\d)\s*(?P<unit>[^\d\s.,/+-].*)?", re.ASCII)
_AS_PLAIN = {"−": "-", "–": "-", "⁄": "/", "\u00a0": " ", "\u202f": " ", "\u2009": " ", "٫": "."}


class NotAMeasure(ValueError):
    """What was typed is no number, or its unit is not one of this quantity; says what may be written."""


@dataclass(frozen=True, slots=True)
class Unit:
    """One unit, and how it becomes the kept one: kept = typed × factor + offset."""

    name: str
    factor: float = 1.0
    offset: float = 0.0
    also: tuple[str, ...] = ()

    def kept(self, typed: float) -> float:
        return typed * self.factor + self.offset

    def shown(self, kept: float) -> float:
        return (kept - self.offset) / self.factor


@dataclass(frozen=True, slots=True)
class Quantity:
    """Something measured: the unit a metric shop types, and the one of an inch shop."""

    code: str
    metric: Unit
    inch: Unit
    decimals: int = 1
    inch_decimals: int = 1

    def unit(self, units: str) -> Unit:
        return self.inch if units == Units.INCH else self.metric

    def written(self, kept: float, units: str, *, decimals: int | None = None) -> str:
        """A kept value with its unit, as this shop reads it.

        >>> TEMPERATURE.written(20.0, "metric"), TEMPERATURE.written(20.0, "inch")
        ('20.0 °C', '68.0 °F')
        """
        unit = self.unit(units)
        places = decimals if decimals is not None else self.places(units)
        return f"{tidy(unit.shown(kept), places)} {unit.name}".strip()

    def places(self, units: str) -> int:
        return self.inch_decimals if units == Units.INCH else self.decimals


def same(code: str, unit: str, *, decimals: int = 1, also: tuple[str, ...] = ()) -> Quantity:
    """A quantity that all shops type in one unit."""
    only = Unit(unit, also=also)
    return Quantity(code, only, only, decimals, decimals)


TEMPERATURE = Quantity(
    "temperature",
    Unit("°C", also=("c", "degc")),
    Unit("°F", 5 / 9, -160 / 9, also=("f", "degf")),
)
# A difference of temperatures has no offset.
DEGREES_APART = Quantity("degrees-apart", Unit("°C", also=("c",)), Unit("°F", 5 / 9, also=("f",)))
LENGTH = Quantity("length", Unit("mm"), Unit("in", 25.4, also=('"', "inch", "inches")), 1, 2)
REACH = Quantity("reach", Unit("cm", 10), Unit("in", 25.4, also=('"', "inch", "inches")), 0, 1)
FILM = Quantity("film", Unit("µm", also=("um", "micron", "microns")), Unit("mil", 25.4, also=("mils",)), 0, 2)
DEPOSIT = Quantity("deposit", Unit("µm", also=("um", "micron", "microns")), Unit("mil", 25.4), 1, 3)
AREA = Quantity("area", Unit("m²", also=("m2", "sqm")), Unit("ft²", 0.09290304, also=("ft2", "sqft")), 2, 1)
SMALL_AREA = Quantity("small-area", Unit("cm²", also=("cm2",)), Unit("in²", 6.4516, also=("in2",)), 0, 1)
WEIGHT = Quantity("weight", Unit("kg"), Unit("lb", 0.45359237, also=("lbs",)), 1, 1)
# The gallon and fluid ounce of the United States.
VOLUME = Quantity("volume", Unit("mL", also=("ml",)), Unit("fl oz", 29.5735295625, also=("floz",)), 0, 1)
COVERAGE = Quantity("coverage", Unit("m²/L"), Unit("ft²/gal", 0.09290304 / 3.785411784), 1, 0)
CURRENT_DENSITY = Quantity("current-density", Unit("A/dm²"), Unit("A/ft²", 0.09290304**-1 / 100), 2, 1)
CURRENT = same("current", "A", decimals=1, also=("amp", "amps", "ampere"))
PERCENT = same("percent", "%", decimals=0, also=("percent", "%rh", "rh"))
MINUTES = same("minutes", "min", decimals=0, also=("minutes",))
HOURS = same("hours", "h", decimals=1, also=("hours", "hour", "hr", "hrs"))
DEGREES = same("degrees", "°", decimals=0, also=("deg", "degrees"))
COUNT = same("count", "", decimals=0)
NUMBER = same("number", "", decimals=2)

QUANTITIES = {
    each.code: each
    for each in (
        TEMPERATURE, DEGREES_APART, LENGTH, REACH, FILM, DEPOSIT, AREA, SMALL_AREA, WEIGHT, VOLUME, COVERAGE,
        CURRENT_DENSITY, CURRENT, PERCENT, MINUTES, HOURS, DEGREES, COUNT, NUMBER,
    )
}  # fmt: skip


def add_quantities(*more: Quantity) -> None:
    """Make further quantities known by their code, so that stored answers find their unit again."""
    QUANTITIES.update({each.code: each for each in more})


def quantity_of(kind: ReadingKind) -> Quantity:
    """The quantity of a reading kind: its own unit and the one of inch shops."""
    kept = Unit(kind.unit)
    inch = Unit(kind.inch_unit, float(kind.inch_factor), float(kind.inch_offset)) if kind.inch_unit else kept
    # A larger unit wants more places: what is read to a millimetre is read to hundredths of an inch.
    finer = max(0, math.ceil(math.log10(inch.factor)))
    return Quantity(f"kind-{kind.code}", kept, inch, kind.decimals, min(4, kind.decimals + finer))


@dataclass(frozen=True, slots=True)
class Measure:
    """One value as typed, its unit, and the value that is kept."""

    typed: str
    unit: str
    value: float

    def as_data(self) -> dict[str, Any]:
        return {"typed": self.typed, "unit": self.unit, "value": self.value}

    def __str__(self) -> str:
        return f"{self.typed} {self.unit}".strip()


def read_measure(typed: str, quantity: Quantity, units: str) -> Measure:
    """A typed value with or without its unit; without one it is in the shop's own.

    >>> read_measure("20,5", TEMPERATURE, "metric").value, read_measure("68 °F", TEMPERATURE, "metric").value
    (20.5, 20.0)
    """
    plain = _plain(typed)
    found = _SPLIT.fullmatch(plain)
    if found is None:
        raise NotAMeasure(f"“{typed[:20]}” is not a number; write digits, such as 12.5.")
    unit = _unit(found["unit"] or "", quantity, units)
    value = read_number(found["number"])
    return Measure(found["number"].strip(), unit.name, unit.kept(value))


def read_number(typed: str) -> float:
    """A number in any digits a person may type: decimal comma or point, full-width digits, fractions.

    >>> read_number("1,5"), read_number("１２．５"), read_number("3 1/4"), read_number("½"), read_number("-0")
    (1.5, 12.5, 3.25, 0.5, 0.0)
    >>> read_number("1,234")
    Traceback (most recent call last):
    ...
    shopflow.readings.measures.NotAMeasure: “1,234” can be read two ways; write 1234 or 1.234.
    """
    plain = _plain(typed)
    sign = -1 if plain.startswith("-") else 1
    digits = plain.lstrip("+-").strip()
    if len(plain) - len(plain.lstrip("+-")) > 1:
        raise NotAMeasure(f"“{typed[:20]}” is not a number; write digits, such as 12.5.")
    if fraction := _FRACTION.fullmatch(digits):
        return sign * _fraction(typed, *fraction.groups()) + 0.0
    if _THOUSANDS.fullmatch(digits):
        whole, _, rest = digits.partition(",")
        raise NotAMeasure(f"“{digits}” can be read two ways; write {whole}{rest} or {whole}.{rest}.")
    if not _PLAIN.fullmatch(digits):
        raise NotAMeasure(f"“{typed[:20]}” is not a number; write digits, such as 12.5.")
    return sign * float(digits.replace(",", ".")) + 0.0


def _fraction(typed: str, whole: str | None, over: str, under: str) -> float:
    if int(under) == 0:
        raise NotAMeasure(f"“{typed[:20]}” divides by nothing; write digits, such as 3 1/4.")
    return int(whole or 0) + int(over) / int(under)


def _plain(typed: str) -> str:
    """The same in plain digits and signs; ½ becomes 1/2, with room before it for a whole number."""
    out = []
    for letter in typed.strip():
        spelled = unicodedata.normalize("NFKC", letter)
        spelled = " " + spelled if "⁄" in spelled else spelled
        for one in spelled:
            decimal = unicodedata.decimal(one, None)
            out.append(str(decimal) if decimal is not None else _AS_PLAIN.get(one, one))
    return re.sub(r" +", " ", "".join(out)).strip()


def _unit(written: str, quantity: Quantity, units: str) -> Unit:
    wanted = _key(written)
    if not wanted:
        return quantity.unit(units)
    for unit in (quantity.metric, quantity.inch):
        if wanted in {_key(unit.name), *map(_key, unit.also)}:
            return unit
    known = " or ".join(dict.fromkeys(one.name for one in (quantity.metric, quantity.inch) if one.name))
    raise NotAMeasure(f"“{written[:12]}” is not a unit of this; write {known or 'the number alone'}.")


def _key(name: str) -> str:
    return unicodedata.normalize("NFKC", name).casefold().replace(" ", "").rstrip(".")


def tidy(value: float, decimals: int) -> str:
    """Digits as a page shows them; never a minus before nothing.

    >>> tidy(-0.001, 1), tidy(12.346, 2), tidy(1234.0, 0)
    ('0.0', '12.35', '1,234')
    """
    rounded = round(value, decimals) + 0.0
    return f"{rounded:,.{decimals}f}"
