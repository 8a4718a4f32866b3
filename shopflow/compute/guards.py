"""The door of every computation: numbers that make no sense are named and turned away here.

A guard takes the field's name and what was given, and hands the value back clean, or raises ComputeError.
"""

from __future__ import annotations

import math
from collections.abc import Collection, Iterable
from decimal import Decimal
from numbers import Integral, Real
from typing import TypeVar

from shopflow.compute.errors import ComputeError

T = TypeVar("T")


def number(
    field: str,
    given: object,
    *,
    at_least: float | None = None,
    above: float | None = None,
    at_most: float | None = None,
    below: float | None = None,
    unit: str = "",
) -> float:
    """Hand back a finite number inside its limits, as a float.

    Parameters: `field` the name shown to the person; `given` what came in; the limits (optional), in `unit`.
    Whole numbers, fractions and Decimal are welcome; text, truth values, NaN and infinity are not.
    Result: float. Errors: ComputeError naming the field, what was given and what is allowed.

    >>> number("length_mm", 660, above=0, at_most=10_000, unit="mm")
    660.0
    >>> number("rh", 140, at_least=0, at_most=100, unit="%")
    Traceback (most recent call last):
    ...
    shopflow.compute.errors.ComputeError: rh: got 140; allowed is a number at least 0 and at most 100 %
    """
    value = _finite(given)
    inside = (
        value is not None
        and (at_least is None or value >= at_least)
        and (above is None or value > above)
        and (at_most is None or value <= at_most)
        and (below is None or value < below)
    )
    if value is None or not inside:
        raise ComputeError(field, given, _limits("number", at_least, above, at_most, below, unit))
    return value


def whole(
    field: str, given: object, *, at_least: int | None = None, at_most: int | None = None, unit: str = ""
) -> int:
    """Hand back a whole number inside its limits, as an int (3.0 is refused: counts are not measured).

    Parameters, result and errors as for `number`.

    >>> whole("note", 49, at_least=1, at_most=88)
    49
    """
    count = int(given) if isinstance(given, Integral) and not isinstance(given, bool) else None
    if count is None or _outside(count, at_least, at_most):
        raise ComputeError(field, given, _limits("whole number", at_least, None, at_most, None, unit))
    return count


def one_of(field: str, given: T, allowed: Collection[T]) -> T:
    """Hand back a value that stands in the list of allowed ones, or name them all.

    >>> one_of("grip", "good", ("good", "fair", "poor"))
    'good'
    """
    try:
        known = given in allowed
    except TypeError:  # Something that cannot be looked up at all, such as a list.
        known = False
    if not known:
        raise ComputeError(field, given, "one of " + ", ".join(str(each) for each in allowed))
    return given


def some(field: str, given: Iterable[T], *, at_least: int = 1, at_most: int | None = None) -> list[T]:
    """Hand back a list with enough, and not too many, things in it; text does not count as a list.

    >>> some("speaking_mm", (52, 54))
    [52, 54]
    """
    allowed = _limits("list", at_least, None, at_most, None, "entries")
    if isinstance(given, (str, bytes)) or not isinstance(given, Iterable):
        raise ComputeError(field, given, allowed)
    things = list(given)
    if _outside(len(things), at_least, at_most):
        raise ComputeError(field, f"{len(things)} entries", allowed)
    return things


def _finite(given: object) -> float | None:
    if isinstance(given, bool) or not isinstance(given, (Real, Decimal)):
        return None
    try:
        value = float(given)
    except (OverflowError, ValueError):  # A whole number too big for a float; a signalling Decimal NaN.
        return None
    return value if math.isfinite(value) else None


def _outside(value: int, at_least: int | None, at_most: int | None) -> bool:
    return (at_least is not None and value < at_least) or (at_most is not None and value > at_most)


def _limits(
    noun: str,
    at_least: float | None,
    above: float | None,
    at_most: float | None,
    below: float | None,
    unit: str,
) -> str:
    spoken = (("at least", at_least), ("more than", above), ("at most", at_most), ("less than", below))
    limits = " and ".join(f"{words} {limit:,}" for words, limit in spoken if limit is not None)
    return " ".join(part for part in (f"a {noun}", limits, unit) if part)
