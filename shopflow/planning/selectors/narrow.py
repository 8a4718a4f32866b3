"""Which department holds the others up in the coming weeks, and by which figures."""

from __future__ import annotations

from dataclasses import dataclass

from shopflow.catalogue.models import Department

from .load import LoadTable, Row

WEEKS = 8


@dataclass(frozen=True, slots=True)
class Narrow:
    """The department with the least room: hours wanted of the hours to be had over eight weeks."""

    department: Department
    wanted: float
    to_be_had: float
    later: float
    next: Department | None
    next_share: float | None

    @property
    def percent(self) -> int:
        return round(100 * self.wanted / self.to_be_had)

    @property
    def words(self) -> str:
        said = (
            f"In the coming eight weeks {self.wanted:.0f} of its {self.to_be_had:.0f} hands-on hours "
            f"are wanted ({self.percent} %)"
        )
        if self.later >= 1:
            said += f", and {self.later:.0f} h are planned after that"
        if self.next is not None and self.next_share is not None:
            said += f"; next is {self.next.name} with {100 * self.next_share:.0f} %"
        return f"{said}."


def narrow_place(table: LoadTable) -> Narrow | None:
    """The constraint; of departments that are equally full the one with more work after that."""
    known = [(_share(row), _later(row), row) for row in table.rows if _had(row) > 0 and _wanted(row) > 0]
    known.sort(key=lambda one: (-round(one[0], 2), -one[1]))
    if not known:
        return None
    _, later, first = known[0]
    second = known[1] if len(known) > 1 else None
    return Narrow(
        department=first.department,
        wanted=_wanted(first),
        to_be_had=_had(first),
        later=later,
        next=second[2].department if second else None,
        next_share=second[0] if second else None,
    )


def _wanted(row: Row) -> float:
    return sum(cell.wanted for cell in row.cells[:WEEKS])


def _had(row: Row) -> float:
    return sum(cell.to_be_had for cell in row.cells[:WEEKS])


def _share(row: Row) -> float:
    return _wanted(row) / _had(row)


def _later(row: Row) -> float:
    return row.later + sum(cell.wanted for cell in row.cells[WEEKS:])
