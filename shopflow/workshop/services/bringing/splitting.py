"""Letters to rows of cells: separators, quotes, breaks inside cells, and the line where each row begins."""

from __future__ import annotations

import re
from collections.abc import Iterator
from dataclasses import dataclass

from shopflow.common.cells import plain
from shopflow.common.text import clean

from .problems import Unreadable

SEPARATORS = {",": "commas", ";": "semicolons", "\t": "tabs", "|": "upright strokes"}
_BREAK = re.compile(r"\r\n|\r|\n")
_TOLD = re.compile(r"sep=(.)[ \t]*(?:\r\n|\r|\n|\Z)", re.IGNORECASE)


@dataclass(frozen=True, slots=True)
class Row:
    """One row: the line of the file on which it begins, and its cells without what cannot be seen."""

    line: int
    cells: list[str]

    @property
    def is_blank(self) -> bool:
        return not any(self.cells)


def told_separator(text: str) -> tuple[str, str]:
    """A separator told in a first line of its own, as spreadsheets do, and the text after that line."""
    told = _TOLD.match(text)
    return (told[1], text[told.end() :]) if told and told[1] in SEPARATORS else ("", text)


def rows(text: str, separator: str, *, first_line: int = 1) -> Iterator[Row]:
    """Every row of the text, blank ones too. A quote that is never closed is named by its line."""
    cell = _cell_pattern(separator)
    at, line = 0, first_line
    while at < len(text):
        begun, cells, more = line, [], True
        while more:
            found = cell.match(text, at)
            if found is None:
                raise _open_quote(text, at, line)
            raw, at = found[0], found.end()
            line += len(_BREAK.findall(raw)) if found[1] is not None else 0
            typed = found[2] if found[1] is None else found[1].replace('""', '"')
            # What the shop took out itself stands behind a guard against spreadsheets; see common/cells.py.
            cells.append(plain(tidy(typed)))
            more = text.startswith(separator, at)
            at += 1 if more else 0
        end = _BREAK.match(text, at)
        if end:
            at, line = end.end(), line + 1
        yield Row(begun, cells)


def tidy(cell: str) -> str:
    """A cell without blanks at its ends and without letters that cannot be seen."""
    return cell.strip() if cell.isascii() and cell.isprintable() else clean(cell)


def _cell_pattern(separator: str) -> re.Pattern[str]:
    """One cell: quoted with blanks around it, or what does not begin with a quote, up to the separator.

    The quantifiers are possessive: a text can be read in one way only, so nothing is ever tried twice.
    """
    sep = re.escape(separator)
    blank = rf"[^\S\r\n{sep}]*+"
    quoted = rf'{blank}"([^"]*+(?:""[^"]*+)*+)"{blank}(?=[\r\n{sep}]|\Z)'
    return re.compile(rf'{quoted}|({blank}(?!")[^\r\n{sep}]*+)')


def _open_quote(text: str, at: int, line: int) -> Unreadable:
    """Why a cell that begins with a quote could not be read."""
    opened = text.index('"', at)
    rest = re.compile(r'"[^"]*+(?:""[^"]*+)*+').match(text, opened)
    after = rest.end() if rest else len(text)
    if after >= len(text):
        return Unreadable(f'Line {line}: the quotation mark " that opens here is never closed.')
    closed = line + len(_BREAK.findall(text[opened:after]))
    return Unreadable(
        f'Line {line}: the quotation mark " that opens here closes on line {closed} in the middle of a cell. '
        'A quoted cell ends with its closing mark; a mark inside it is written twice: "".'
    )
