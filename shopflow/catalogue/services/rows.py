"""What all rows of a set-up have in common: a code that never changes, and a place in a row."""

from __future__ import annotations

from collections.abc import Collection, Sequence
from decimal import Decimal
from typing import Any

from django.db import models
from django.utils.text import slugify

from shopflow.common.refusals import Refused


def free_code(name: str, *, taken: Collection[str], otherwise: str, most: int) -> str:
    """A code made from a name that no other row bears; numbered where the plain one is taken.

    >>> free_code("Rubbed out", taken={"rubbed-out"}, otherwise="stage", most=30)
    'rubbed-out-2'
    >>> free_code("Lak op maat", taken=set(), otherwise="route", most=6)
    'lak-op'
    """
    plain = slugify(name)[:most].strip("-") or otherwise[:most]
    code, number = plain, 1
    while code in taken:
        number += 1
        ending = f"-{number}"
        code = plain[: most - len(ending)].rstrip("-") + ending
    return code


def refuse_unless_rising(figures: Sequence[Decimal | int], *, what: str, field: str) -> None:
    """Low, likely and high must be above nothing, and none below the one before it."""
    low, likely, high = figures
    if not 0 < low <= likely <= high:
        raise Refused(
            f"{what}: got {low} / {likely} / {high}; low, likely and high must be above 0 "
            "and rise or stay equal.",
            field=field,
        )


def next_place(rows: models.QuerySet[Any]) -> int:
    last = rows.aggregate(last=models.Max("position"))["last"]
    return 0 if last is None else last + 1


def shift(rows: list[Any], row: models.Model, *, places: int) -> list[Any]:
    """The rows with one of them moved up (negative) or down, as far as the list goes."""
    here = next(at for at, one in enumerate(rows) if one.pk == row.pk)
    others = [one for one in rows if one.pk != row.pk]
    there = min(max(here + places, 0), len(others))
    return [*others[:there], rows[here], *others[there:]]


def keep_order(rows: list[Any]) -> None:
    """Write the order of this list into the rows' positions, touching only those that change."""
    moved = [row for place, row in enumerate(rows) if row.position != place]
    for place, row in enumerate(rows):
        row.position = place
    if moved:
        type(moved[0]).objects.bulk_update(moved, ["position"])
