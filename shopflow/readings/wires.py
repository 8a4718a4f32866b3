"""Wire as it is typed and told: by its size in one of the two series, or by its diameter."""

from __future__ import annotations

import re
import unicodedata
from typing import NamedTuple

from shopflow.catalogue.models import Units
from shopflow.compute.strings import MUSIC_WIRE_METRIC_MM, MUSIC_WIRE_MM

from .measures import LENGTH, NotAMeasure, Quantity, Unit, read_measure, read_number, tidy
from .models import StringScale

DIAMETER = Quantity("diameter", Unit("mm"), Unit("in", 25.4, also=('"', "inch", "inches")), 3, 4)
# Dimensions of an action, gaps and bearing.
FINE = Quantity("fine", Unit("mm"), Unit("in", 25.4, also=('"',)), 2, 4)
_SIZE_WORDS = re.compile(r"^(?:no\.?|nr\.?|size|gauge|#)\s*", re.IGNORECASE)
# No wire of a piano is thicker than 3 mm, no size has a lower number than 12.
_LEAST_SIZE = 6.0
_THICKEST_IN = 0.2


class Wire(NamedTuple):
    mm: float
    size: float | None


def sizes_of(gauge: str) -> dict[float, float]:
    """Diameters by size of one series."""
    return MUSIC_WIRE_METRIC_MM if gauge == StringScale.Gauge.METRIC else MUSIC_WIRE_MM


def read_wire(typed: str, *, gauge: str, units: str = Units.METRIC) -> Wire:
    """A size, or a diameter with or without its unit.

    >>> read_wire("16½", gauge="inch"), read_wire("0,94", gauge="inch"), read_wire(".037 in", gauge="inch")
    (Wire(mm=0.9652, size=16.5), Wire(mm=0.94, size=None), Wire(mm=0.9398, size=None))
    """
    plain = _SIZE_WORDS.sub("", unicodedata.normalize("NFC", typed).strip())
    try:
        bare = read_number(plain)
    except NotAMeasure:
        return Wire(_checked(typed, read_measure(plain, DIAMETER, units).value), None)
    if bare >= _LEAST_SIZE:
        return _of_size(typed, bare, gauge)
    is_inches = units == Units.INCH and bare < _THICKEST_IN
    return Wire(_checked(typed, bare * 25.4 if is_inches else bare), None)


def _of_size(typed: str, size: float, gauge: str) -> Wire:
    sizes = sizes_of(gauge)
    if size not in sizes:
        least, most = said_size(min(sizes)), said_size(max(sizes))
        raise NotAMeasure(
            f"Got “{typed[:20]}”; sizes of this series are {least} to {most}, diameters 0.3 to 3 mm."
        )
    return Wire(sizes[size], size)


def _checked(typed: str, mm: float) -> float:
    if not 0.3 <= mm <= 3:
        raise NotAMeasure(
            f"Got “{typed[:20]}”; a wire is 0.3 to 3 mm thick, or has a size such as 13 or 16½."
        )
    return round(mm, 4)


def said_size(size: float) -> str:
    """
    >>> said_size(16.5), said_size(13.0)
    ('16½', '13')
    """
    return f"{size:.0f}" if size == int(size) else f"{int(size)}½"


def said_wire(mm: float, size: float | None, units: str = Units.METRIC) -> str:
    """A size where there is one, else the diameter with its unit."""
    return said_size(size) if size is not None else DIAMETER.written(mm, units)


def said_length(mm: float, units: str) -> str:
    """A length in the shop's unit, without it."""
    unit = LENGTH.unit(units)
    return tidy(unit.shown(mm), LENGTH.places(units)).replace(",", "")


def exact(mm: float | None) -> str:
    """A figure as short as it can be without losing anything.

    >>> exact(644.525), exact(400.0), exact(None)
    ('644.525', '400', '')
    """
    return "" if mm is None else f"{mm:.4f}".rstrip("0").rstrip(".")
