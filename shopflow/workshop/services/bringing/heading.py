"""Which column of the file is which: known by name or synonym, missing, named twice, or unknown."""

from __future__ import annotations

from dataclasses import dataclass

from .columns import COLUMNS, known_as, plain
from .problems import Problems
from .reading import Table
from .splitting import Row

ALL_KNOWN = "known are " + ", ".join(column.name for column in COLUMNS)


@dataclass(frozen=True, slots=True)
class Line:
    """One row by column name, with blank cells left out."""

    line: int
    cells: dict[str, str]


@dataclass(frozen=True, slots=True)
class Heading:
    """What the head of the file says."""

    places: dict[str, int]
    said: dict[str, str]
    unknown: list[str]
    notes: list[str]

    def lines(self, table: Table, problems: Problems) -> list[Line]:
        """The rows by column name; cells beyond the head are named, never dropped."""
        return [self._line(row, len(table.head.cells), problems) for row in table.rows]

    def _line(self, row: Row, width: int, problems: Problems) -> Line:
        beyond = [cell for cell in row.cells[width:] if cell]
        if beyond:
            problems.add(
                row.line,
                f"after column {width}",
                " · ".join(beyond),
                "nothing: the first line names no column here. A cell with a separator in it needs quotes",
            )
        cells = {name: row.cells[at] for name, at in self.places.items() if at < len(row.cells)}
        return Line(row.line, {name: cell for name, cell in cells.items() if cell})

    def column(self, name: str) -> str:
        """A column as the file says it, and as it is known."""
        said = self.said.get(name, name)
        return name if plain(said) == plain(name) else f"{said} ({name})"


def read_heading(table: Table, problems: Problems) -> Heading:
    """Match the head to the known columns; missing and doubled ones are problems, unknown ones a question."""
    places: dict[str, int] = {}
    unknown: list[str] = []
    line = table.head.line
    for at, said in enumerate(table.head.cells):
        name = known_as(said)
        if name is None:
            unknown += [said or f"column {at + 1}, which has no name"] * _holds_anything(table, at)
        elif name in places:
            first = table.head.cells[places[name]]
            problems.add(line, said, f"“{first}” and “{said}”", f"one column for {name}; keep one of the two")
        else:
            places[name] = at
    _name_missing(places, line, problems)
    said_as = {name: table.head.cells[at] for name, at in places.items()}
    return Heading(places, said_as, unknown, _notes(said_as))


def _holds_anything(table: Table, at: int) -> bool:
    return bool(table.head.cells[at]) or any(at < len(row.cells) and row.cells[at] for row in table.rows)


def _name_missing(places: dict[str, int], line: int, problems: Problems) -> None:
    if not places:
        problems.add(line, "all", "no known column name", f"a first line with column names; {ALL_KNOWN}")
        return
    for column in COLUMNS:
        if column.needed and column.name not in places:
            problems.add(line, column.name, "no such column", f"a column {column.name}; {ALL_KNOWN}")


def _notes(said_as: dict[str, str]) -> list[str]:
    renamed = [f"“{said}” as {name}" for name, said in said_as.items() if plain(said) != plain(name)]
    return [f"Columns were read by what they mean: {', '.join(renamed)}."] if renamed else []
