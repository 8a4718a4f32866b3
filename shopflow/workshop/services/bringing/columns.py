"""The columns of a file of instruments: their names, what else they are called, what may stand in them."""

from __future__ import annotations

import unicodedata
from dataclasses import dataclass
from enum import Enum


class Of(Enum):
    """Whom a column tells about; what is told of an instrument is the same on all of its rows."""

    INSTRUMENT = "the instrument"
    TASK = "one task"


@dataclass(frozen=True, slots=True)
class Column:
    name: str
    of: Of
    allowed: str
    also: tuple[str, ...] = ()
    needed: bool = False


_I, _T = Of.INSTRUMENT, Of.TASK

COLUMNS = (
    Column(
        "number",
        _I,
        "the number on the tag: up to 12 letters, digits and hyphens",
        ("no", "instrument", "instrument no", "instrument number", "piano no", "piano number", "tag"),
        needed=True,
    ),
    Column("kind", _I, "upright or grand", ("type", "upright or grand"), needed=True),
    Column("maker", _I, "up to 60 letters", ("make", "mfr", "manufacturer", "brand")),
    Column(
        "serial",
        _I,
        "up to 30 letters and digits, as stamped",
        ("ser no", "serial no", "serial number", "ser number"),
    ),
    Column("year", _I, "the year it was built, such as 1904", ("year built", "built", "built in")),
    Column(
        "size_cm",
        _I,
        "height of an upright or length of a grand in whole centimetres, 80 to 320",
        ("size in cm", "height cm", "length cm", "height in cm", "length in cm", "cm"),
    ),
    Column("finish", _I, "up to 80 letters", ("case finish", "colour", "color")),
    Column(
        "alterations",
        _I,
        "what earlier owners altered, up to 2,000 letters",
        ("alterations by earlier owners", "earlier alterations"),
    ),
    Column(
        "fragile", _I, "what must not be leaned on, up to 500 letters", ("fragile parts", "handle with care")
    ),
    Column(
        "place",
        _I,
        "where it stands in the house, up to 60 letters",
        ("place in the house", "stands at", "location", "where"),
    ),
    Column(
        "arrived_on",
        _I,
        "the day it came, 1950 to today; empty means today",
        ("arrived", "arrival", "came in", "came in on", "received", "received on", "date in"),
    ),
    Column(
        "promised_on",
        _I,
        "the day it is promised for, 2000 to 2099",
        ("promised", "promised for", "promise date", "due", "due on", "due date"),
    ),
    Column("customer", _I, "whose it is, up to 80 letters", ("owner", "customer name", "owner name", "name")),
    Column(
        "customer_email",
        _I,
        "an e-mail address",
        ("email", "e-mail", "owner email", "customer e-mail", "mail"),
    ),
    Column(
        "customer_phone",
        _I,
        "up to 40 digits and signs",
        ("phone", "telephone", "tel", "owner phone", "mobile", "telephone number", "phone number"),
    ),
    Column(
        "route",
        _I,
        "code or name of one of your routes; its tasks are laid out where the file names no task",
        ("usual way",),
    ),
    Column(
        "task",
        _T,
        "code or name of one of your operations, or your own words with a department",
        ("operation", "work", "open work", "work to do", "to do"),
    ),
    Column("department", _T, "name, code or two-letter mark", ("dept", "bench")),
    Column(
        "stage",
        _T,
        "where the task stands: name or code of a stage on its way; empty means on the rack",
        ("stands in", "stage now", "stands in stage"),
    ),
    Column(
        "hours_likely",
        _T,
        "likely hands-on hours of the whole task, 0 to 1,000, such as 4.5 or 4,5",
        ("hours", "likely hours", "est hours", "estimated hours", "hrs"),
    ),
    Column("note", _T, "for the bench, up to 1,000 letters", ("notes", "remark", "remarks", "comment")),
)
BY_NAME = {column.name: column for column in COLUMNS}
FACTS = tuple(column.name for column in COLUMNS if column.of is Of.INSTRUMENT)
OF_TASK = tuple(column.name for column in COLUMNS if column.of is Of.TASK)


def plain(words: str) -> str:
    """A name without what people write differently: case, spaces, underscores, points.

    >>> plain(" Ser. No ") == plain("SER_NO")
    True
    """
    written = unicodedata.normalize("NFKC", words).casefold()
    return "".join(letter for letter in written if letter.isalnum())


_DOUBT = set("?!*~")


def named(words: str) -> str:
    """Something's name in a cell, as forgiving as `plain`, but a mark of doubt is no slip of the pen.

    >>> named("HW_Prep") == named("hw-prep"), named("stripped?") == named("stripped")
    (True, False)
    """
    written = unicodedata.normalize("NFKC", words).casefold()
    return "".join(letter for letter in written if letter.isalnum() or letter in _DOUBT)


_KNOWN = {plain(word): column.name for column in COLUMNS for word in (column.name, *column.also)}


def known_as(head: str) -> str | None:
    """The column that this head means, or None."""
    return _KNOWN.get(plain(head))
