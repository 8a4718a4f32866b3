"""Days as people write them. Whether day or month comes first is decided for a column, never for a cell."""

from __future__ import annotations

import re
from collections.abc import Iterable
from dataclasses import dataclass
from datetime import date
from enum import StrEnum

from .values import NotAllowed, narrow

_MONTHS = ["jan", "feb", "mar", "apr", "may", "jun", "jul", "aug", "sep", "oct", "nov", "dec"]
_FULL = [
    "january",
    "february",
    "march",
    "april",
    "may",
    "june",
    "july",
    "august",
    "september",
    "october",
    "november",
    "december",
]
_YEAR_FIRST = re.compile(r"(\d{4})([-/.])(\d{1,2})\2(\d{1,2})(?:[T ]00:00(?::00)?)?")
_IN_ONE = re.compile(r"(\d{4})(\d{2})(\d{2})")
_POINTS = re.compile(r"(\d{1,2})\. ?(\d{1,2})\. ?(\d{4})")
_EITHER = re.compile(r"(\d{1,2})([/-])(\d{1,2})\2(\d{4})(?: 00:00(?::00)?)?")
_NAMED = re.compile(r"(\d{1,2})(?:st|nd|rd|th)?[ .-]{0,2}([a-z]{3,9})[ .,-]{0,2}(\d{4})")
_NAMED_FIRST = re.compile(r"([a-z]{3,9})[ .]{0,2}(\d{1,2})(?:st|nd|rd|th)?,? (\d{4})")
_DAY_COUNT = re.compile(r"\d{5}(?:[.,]\d+)?")
_SHORT_YEAR = re.compile(r"\d{1,2}([/.-])\d{1,2}\1\d{2}")
LIKE = "a day such as 2025-12-31, 31/12/2025 or 31.12.2025"


class Order(StrEnum):
    DAY_FIRST = "day"
    MONTH_FIRST = "month"

    @property
    def words(self) -> str:
        return f"the {self.value} first"


@dataclass(frozen=True, slots=True)
class Habit:
    """How a column writes 3/4/2025: by the days that can only be read one way, or not to be told."""

    order: Order | None
    shown_by: str = ""
    either: str = ""

    @property
    def must_be_asked(self) -> bool:
        return self.order is None and bool(self.either)


def habit_of(cells: Iterable[str]) -> Habit:
    """The order that fits most of a column's days.

    >>> habit_of(["03/04/2025", "25/04/2025"]).order
    <Order.DAY_FIRST: 'day'>
    >>> habit_of(["03/04/2025"]).must_be_asked
    True
    """
    only: dict[Order, list[str]] = {Order.DAY_FIRST: [], Order.MONTH_FIRST: []}
    either = ""
    for cell in cells:
        found = _EITHER.fullmatch(narrow(cell))
        if found is None:
            continue
        first, second = int(found[1]), int(found[3])
        if first > 12 >= second:
            only[Order.DAY_FIRST].append(cell)
        elif second > 12 >= first:
            only[Order.MONTH_FIRST].append(cell)
        elif first != second and max(first, second) <= 12:
            either = either or cell
    order = max(only, key=lambda one: len(only[one]))
    return Habit(order, only[order][0], either) if only[order] else Habit(None, either=either)


def read_as(either: str, order: Order) -> str:
    """A day that can be read two ways, in the words of one of them.

    >>> read_as("3/4/2025", Order.MONTH_FIRST)
    '4 March 2025: the month first'
    """
    found = _EITHER.fullmatch(narrow(either))
    if found is None:
        raise ValueError(either)
    first, second = int(found[1]), int(found[3])
    day, month = (second, first) if order is Order.MONTH_FIRST else (first, second)
    return f"{day} {_FULL[month - 1].capitalize()} {found[4]}: {order.words}"


def read_day(typed: str, *, order: Order | None, least: date, most: date) -> date | None:
    """The day in a cell; None while nobody has said how to read it."""
    text = narrow(typed)
    parts = _parts(text, order)
    if parts is None:
        return None
    try:
        day = date(*parts)
    except ValueError as missing:
        raise NotAllowed(f"there is no such day{_other_order(text, order)}; {LIKE}") from missing
    if not least <= day <= most:
        raise NotAllowed(f"{least:%Y-%m-%d} to {most:%Y-%m-%d}; this is {day.isoformat()}")
    return day


def _parts(text: str, order: Order | None) -> tuple[int, int, int] | None:
    """Year, month, day."""
    if found := _YEAR_FIRST.fullmatch(text):
        return int(found[1]), int(found[3]), int(found[4])
    if found := _IN_ONE.fullmatch(text):
        return int(found[1]), int(found[2]), int(found[3])
    if found := _POINTS.fullmatch(text):
        return int(found[3]), int(found[2]), int(found[1])
    if found := _EITHER.fullmatch(text):
        return _in_order(int(found[1]), int(found[3]), int(found[4]), order)
    if found := _NAMED.fullmatch(text.casefold()):
        return int(found[3]), _month(found[2]), int(found[1])
    if found := _NAMED_FIRST.fullmatch(text.casefold()):
        return int(found[3]), _month(found[1]), int(found[2])
    raise NotAllowed(_hint(text))


def _in_order(first: int, second: int, year: int, order: Order | None) -> tuple[int, int, int] | None:
    if order is None and first != second and max(first, second) <= 12:
        return None
    return (year, first, second) if order is Order.MONTH_FIRST else (year, second, first)


def _month(name: str) -> int:
    for place, (short, full) in enumerate(zip(_MONTHS, _FULL, strict=True), 1):
        if name in {short, full} or (name == "sept" and short == "sep"):
            return place
    raise NotAllowed(LIKE)


def _hint(text: str) -> str:
    if _DAY_COUNT.fullmatch(text):
        return (
            f"{LIKE}. This looks like a spreadsheet's own count of days: give the column the format of a date"
        )
    if _SHORT_YEAR.fullmatch(text):
        return f"{LIKE}, with all four digits of the year"
    return LIKE


def _other_order(text: str, order: Order | None) -> str:
    """Why a day that would be one in the other order is none here."""
    found = _EITHER.fullmatch(text)
    if order is None or found is None or min(int(found[1]), int(found[3])) > 12:
        return ""
    return f" with {order.words}, as this column is read"
