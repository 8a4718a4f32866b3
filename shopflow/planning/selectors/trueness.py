"""Are estimates true? Hours spent against hours quoted, operation by operation."""

from __future__ import annotations

from dataclasses import dataclass

from shopflow.catalogue.models import Kind, Operation
from shopflow.compute.hours import HoursEstimate

from .estimates import learned, observed_hours

LAST = 10
# Farther off than this is worth a look at the catalogue's hours (common practice, no source).
LONG, SHORT = 1.25, 0.8


@dataclass(frozen=True, slots=True)
class Trueness:
    """One operation on one kind of instrument: what is quoted, what it took the last ten times."""

    operation: Operation
    kind: str
    quoted: float
    estimate: HoursEstimate
    spent: list[float]

    @property
    def kind_words(self) -> str:
        return Kind(self.kind).label

    @property
    def last(self) -> list[float]:
        return self.spent[-LAST:]

    @property
    def mean(self) -> float:
        return sum(self.last) / len(self.last)

    @property
    def ratio(self) -> float:
        """Spent hours of the last ten ÷ the likely hours quoted."""
        return self.mean / self.quoted

    @property
    def word(self) -> str:
        if self.ratio > LONG:
            return "takes longer"
        return "is quicker" if self.ratio < SHORT else ""

    @property
    def weight_percent(self) -> int:
        return round(100 * self.estimate.weight)


@dataclass(frozen=True, slots=True)
class TruenessTable:
    rows: list[Trueness]

    @property
    def ratio(self) -> float | None:
        """All the last tens together, so that long work counts as long."""
        quoted = sum(row.quoted * len(row.last) for row in self.rows)
        return sum(sum(row.last) for row in self.rows) / quoted if quoted else None

    @property
    def longer(self) -> int:
        return sum(row.ratio > LONG for row in self.rows)

    @property
    def quicker(self) -> int:
        return sum(row.ratio < SHORT for row in self.rows)


def trueness() -> TruenessTable:
    """Every operation that was signed with hours on it, the farthest over its quote first. Three queries."""
    seen = observed_hours()
    operations = Operation.objects.filter(pk__in={pk for pk, _ in seen}).select_related("department")
    estimates = learned(operations)
    rows = [
        Trueness(operation, kind, float(quoted[1]), estimates[operation.pk, kind], seen[operation.pk, kind])
        for operation in operations
        for kind in Kind.values
        if seen.get((operation.pk, kind)) and (quoted := operation.hours_for(kind)) and quoted[1]
    ]
    return TruenessTable(sorted(rows, key=lambda row: (-row.ratio, row.operation.name, row.kind)))
