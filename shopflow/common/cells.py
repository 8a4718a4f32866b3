"""Cells of tables that leave the house: a spreadsheet program must never take a typed word for a formula.

A text that begins like a formula gets an apostrophe in front, and so does one that already looks so treated:
that way `plain` always gives back exactly what `guarded` was given.
"""

from __future__ import annotations

from datetime import date, datetime, tzinfo
from decimal import Decimal

# ASVS 1.2.10 names = + - @ tab and NUL; line ends and the full-width forms are read as formulas too.
SIGNS = frozenset("=+-@\t\r\n\0＝＋－＠")
MARK = "'"


def guarded(text: str) -> str:
    """The text as a cell that stays a text.

    >>> guarded("=HYPERLINK(1)"), guarded("Bexcombe"), guarded("'-1")
    ("'=HYPERLINK(1)", 'Bexcombe', "''-1")
    """
    return MARK + text if _looks_like_a_formula(text) else text


def plain(cell: str) -> str:
    """What `guarded` was given.

    >>> plain(guarded("-1")), plain(guarded("'-1")), plain("'tis")
    ('-1', "'-1", "'tis")
    """
    is_guarded = cell.startswith(MARK) and _looks_like_a_formula(cell[1:])
    return cell[1:] if is_guarded else cell


def written(value: object, *, zone: tzinfo) -> str:
    """One cell: numbers stay numbers, moments are told by the shop's clock, texts are guarded.

    >>> from datetime import UTC
    >>> [written(one, zone=UTC) for one in (Decimal("-1.50"), None, True, date(2026, 11, 24), "-1")]
    ['-1.50', '', 'yes', '2026-11-24', "'-1"]
    """
    if value is None:
        return ""
    if isinstance(value, bool):
        return "yes" if value else "no"
    if isinstance(value, datetime):
        return value.astimezone(zone).isoformat(timespec="seconds")
    if isinstance(value, int | float | Decimal | date):
        return str(value)
    # No reader of such files can be trusted with a NUL, and nobody typed one.
    return guarded(str(value).replace("\0", ""))


def _looks_like_a_formula(text: str) -> bool:
    return text.lstrip(MARK)[:1] in SIGNS if text else False
