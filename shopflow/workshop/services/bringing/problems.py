"""What is wrong with a file, by line and column."""

from __future__ import annotations

from dataclasses import dataclass, field

SHOWN = 20
LONGEST_SHOWN = 60


class Unreadable(Exception):
    """The file as a whole cannot be read; says why, and where if there is a where."""

    def __init__(self, words: str, *, status: int = 422) -> None:
        super().__init__(words)
        self.words, self.status = words, status


@dataclass(frozen=True, slots=True)
class Problem:
    """One cell, or one row, that cannot come in as it is."""

    line: int
    column: str
    given: str
    allowed: str


@dataclass(slots=True)
class Problems:
    """Every problem of a file in the order of its lines."""

    found: list[Problem] = field(default_factory=list)

    def add(self, line: int, column: str, given: str, allowed: str) -> None:
        self.found.append(Problem(line, column, shown(given), allowed))

    def in_order(self) -> list[Problem]:
        return sorted(self.found, key=lambda problem: problem.line)


def shown(given: str) -> str:
    """What stands in a cell, short enough for a table."""
    one_line = " ".join(given.split())
    return one_line if len(one_line) <= LONGEST_SHOWN else one_line[: LONGEST_SHOWN - 1] + "…"
