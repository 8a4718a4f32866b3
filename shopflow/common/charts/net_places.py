"""Where everything of a net goes: columns by longest path, rows within bands, ties led round the rest."""

from __future__ import annotations

from collections.abc import Hashable, Mapping, Sequence
from dataclasses import dataclass
from statistics import median_low

from shopflow.compute import network

Key = Hashable
Tie = tuple[Key, Key]
Cell = tuple[int, int]


@dataclass(frozen=True, slots=True)
class BandRows:
    """The rows that belong to one band."""

    band: str
    first: int
    count: int


@dataclass(frozen=True, slots=True)
class Run:
    """One tie: from the end of `earlier` to the front of `later`, in between at the height of a row.

    `below` is set where no row is free: the run then goes under the row, between it and the next.
    """

    earlier: Key
    later: Key
    row: int
    below: bool = False


@dataclass(frozen=True, slots=True)
class Places:
    column: dict[Key, int]
    row: dict[Key, int]
    bands: list[BandRows]
    runs: list[Run]

    @property
    def columns(self) -> int:
        return max(self.column.values(), default=-1) + 1


def places(band_of: Mapping[Key, str], ties: Sequence[Tie], bands: Sequence[str]) -> Places:
    """Put every key of `band_of` in a column and a row, and lead each tie from column to column.

    A key stands one column after the last of those it waits for; `bands` says which rows come first.

    >>> ties = [("strip", "fit"), ("plate", "fit")]
    >>> found = places({"strip": "RF", "plate": "PL", "fit": "RF"}, ties, ["RF", "PL"])
    >>> found.column["fit"], found.row["plate"]
    (1, 1)
    """
    kept = network.without_shortcuts(ties)
    column = _columns(band_of, kept)
    row, rows_of = _rows(band_of, kept, column, bands)
    return Places(column, row, rows_of, _runs(kept, column, row))


def _columns(keys: Mapping[Key, str], ties: Sequence[Tie]) -> dict[Key, int]:
    column: dict[Key, int] = {}
    earlier_of = _earlier(ties)
    for key in network.order(ties, jobs=keys):
        column[key] = max((column[before] + 1 for before in earlier_of.get(key, ())), default=0)
    return column


def _rows(
    band_of: Mapping[Key, str], ties: Sequence[Tie], column: Mapping[Key, int], bands: Sequence[str]
) -> tuple[dict[Key, int], list[BandRows]]:
    earlier_of = _earlier(ties)
    row: dict[Key, int] = {}
    rows_of: list[BandRows] = []
    first = 0
    for band in bands:
        here = [key for key in band_of if band_of[key] == band]
        count = _most_in_a_column(here, column)
        for number in sorted({column[key] for key in here}):
            together = [key for key in here if column[key] == number]
            row |= _settle(together, earlier_of, row, range(first, first + count))
        rows_of.append(BandRows(band, first, count))
        first += count
    return row, rows_of


def _most_in_a_column(keys: Sequence[Key], column: Mapping[Key, int]) -> int:
    numbers = [column[key] for key in keys]
    return max((numbers.count(number) for number in set(numbers)), default=0)


def _settle(
    together: Sequence[Key], earlier_of: Mapping[Key, list[Key]], row: Mapping[Key, int], rows: range
) -> dict[Key, int]:
    """Each key of one column in the free row nearest to what it waits for, so that chains run straight."""
    free, settled = list(rows), {}
    wished = {key: _wished_row(earlier_of.get(key, ()), row, rows) for key in together}
    for key in sorted(together, key=lambda one: wished[one]):
        nearest = min(free, key=lambda place: abs(place - wished[key]))
        free.remove(nearest)
        settled[key] = nearest
    return settled


def _wished_row(earlier: Sequence[Key], row: Mapping[Key, int], rows: range) -> int:
    near = [row[key] for key in earlier if key in row and row[key] in rows]
    return median_low(near) if near else rows.start


def _runs(ties: Sequence[Tie], column: Mapping[Key, int], row: Mapping[Key, int]) -> list[Run]:
    taken: dict[Cell, Tie] = {(column[key], row[key]): (key, key) for key in column}
    runs = []
    for earlier, later in sorted(ties, key=lambda tie: column[tie[0]] - column[tie[1]]):
        between = range(column[earlier] + 1, column[later])
        level = next(
            (at for at in (row[earlier], row[later]) if _is_free(between, at, (earlier, later), taken)), None
        )
        if level is None:
            runs.append(Run(earlier, later, min(row[earlier], row[later]), below=True))
            continue
        taken |= dict.fromkeys(((number, level) for number in between), (earlier, later))
        runs.append(Run(earlier, later, level))
    return runs


def _is_free(between: range, level: int, tie: Tie, taken: Mapping[Cell, Tie]) -> bool:
    """Whether nothing stands in this row on the way; ties with an end in common may share it."""
    there = [taken[number, level] for number in between if (number, level) in taken]
    return all(tie[0] == other[0] or tie[1] == other[1] for other in there)


def _earlier(ties: Sequence[Tie]) -> dict[Key, list[Key]]:
    found: dict[Key, list[Key]] = {}
    for earlier, later in ties:
        found.setdefault(later, []).append(earlier)
    return found
