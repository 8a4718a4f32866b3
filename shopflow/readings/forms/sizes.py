"""Sizes typed in one go, as they are called out: length × width × how many."""

from __future__ import annotations

import re
from typing import Any

from shopflow.readings.measures import AREA, LENGTH, Measure, NotAMeasure, read_number

from .fields import MeasureField

_TIMES = re.compile(r"\s*[x×*]\s*", re.IGNORECASE)
MM2_PER_M2 = 1_000_000
LONGEST_MM = 10_000
MOST_FACES = 200


class SizeField(MeasureField):
    """An area as length × width × how many faces, in millimetres or inches; kept in m²."""

    def __init__(self, *, most: float = 20, **kwargs: Any) -> None:
        super().__init__(quantity=AREA, least=0, most=most, **kwargs)
        self.widget.attrs["inputmode"] = "text"

    def speak(self, units: str) -> None:
        self.units = units
        self.label = f"{self.name}, {LENGTH.unit(units).name}"

    def measure(self, typed: str) -> Measure:
        return Measure(typed, LENGTH.unit(self.units).name, area_m2(typed, self.units))


def area_m2(typed: str, units: str) -> float:
    """The area of so many faces, in m².

    >>> area_m2("1200 x 600 x 2", "metric"), round(area_m2("48 × 24", "inch"), 4)
    (1.44, 0.7432)
    """
    typed = typed.strip()
    parts = _TIMES.split(typed)
    if not 2 <= len(parts) <= 3:
        raise NotAMeasure(
            f"“{typed[:30]}” is not a size; write length × width × how many, as 1200 x 600 x 2."
        )
    unit = LENGTH.unit(units)
    length, width = (unit.kept(read_number(part)) for part in parts[:2])
    faces = read_number(parts[2]) if len(parts) == 3 else 1
    if not (0 <= length <= LONGEST_MM and 0 <= width <= LONGEST_MM and 0 <= faces <= MOST_FACES):
        longest = f"{unit.shown(LONGEST_MM):.0f} {unit.name}"
        raise NotAMeasure(f"“{typed[:30]}”: allowed is up to {longest} a side and {MOST_FACES} faces.")
    return length * width * faces / MM2_PER_M2
