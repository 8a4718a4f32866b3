"""A file becomes a table: its head, its rows with their line numbers, and notes on what was assumed."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass

from .columns import known_as
from .decoding import decoded
from .problems import Problem, Problems, Unreadable
from .splitting import SEPARATORS, Row, rows, told_separator
from .workbook import is_workbook, sheet_rows

MOST_BYTES = 5_000_000
MOST_ROWS = 20_000
MOST_COLUMNS = 100


@dataclass(frozen=True, slots=True)
class Table:
    head: Row
    rows: list[Row]
    notes: list[str]
    problems: list[Problem]


def read_table(data: bytes) -> Table:
    """The table in these bytes, or Unreadable in plain words."""
    if len(data) > MOST_BYTES:
        raise Unreadable(_too_large(len(data)), status=413)
    problems = Problems()
    if is_workbook(data):
        return _table(sheet_rows(data, problems), [], problems)
    text, note = decoded(data)
    told, rest = told_separator(text)
    separator = told or _likeliest_separator(rest)
    notes = [note] * bool(note)
    if separator != ",":
        notes.append(f"The cells are separated by {SEPARATORS[separator]}.")
    return _table(rows(rest, separator, first_line=2 if told else 1), notes, problems)


def _too_large(size: int) -> str:
    return f"The file has {size / 1e6:.1f} MB; allowed are {MOST_BYTES / 1e6:.0f} MB."


def _likeliest_separator(text: str) -> str:
    """The one by which most cells of the first line are known columns; then the one that makes most cells."""

    def fit(separator: str) -> tuple[int, int]:
        try:
            head = next((row for row in rows(text, separator) if not row.is_blank), None)
        except Unreadable:
            return (0, 0)
        return (sum(1 for cell in head.cells if known_as(cell)), len(head.cells)) if head else (0, 0)

    return max(SEPARATORS, key=fit)


def _table(found: Iterable[Row], notes: list[str], problems: Problems) -> Table:
    head: Row | None = None
    kept: list[Row] = []
    for row in found:
        if row.is_blank:
            continue
        if head is None:
            head = _checked_head(row)
        elif len(kept) == MOST_ROWS:
            words = f"The file has more than {MOST_ROWS:,} rows (line {row.line}); allowed are {MOST_ROWS:,}."
            raise Unreadable(words + " Bring it in several files.", status=413)
        else:
            kept.append(row)
    if head is None:
        raise Unreadable("The file is empty.")
    if not kept:
        raise Unreadable("Below the line of column names there is nothing.")
    return Table(head, kept, notes, problems.found)


def _checked_head(row: Row) -> Row:
    while row.cells and not row.cells[-1]:
        row.cells.pop()
    if len(row.cells) > MOST_COLUMNS:
        raise Unreadable(f"The file has {len(row.cells)} columns; allowed are {MOST_COLUMNS}.")
    return row
