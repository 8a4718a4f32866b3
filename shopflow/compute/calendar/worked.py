"""One week of worked spans as instants: how much work lies between two of them, and where it ends."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import UTC, datetime, timedelta

Span = tuple[datetime, datetime]

NO_TIME = timedelta(0)
EVER_BEFORE, EVER_AFTER = datetime.min.replace(tzinfo=UTC), datetime.max.replace(tzinfo=UTC)


@dataclass(frozen=True, slots=True)
class WorkedWeek:
    """The spans worked of the shifts that start in a week, in order; `ends` is its last midnight."""

    spans: tuple[Span, ...]
    ends: datetime
    total: timedelta

    @classmethod
    def of(cls, spans: list[Span], ends: datetime) -> WorkedWeek:
        """Add up the spans once, since plans ask for the same weeks again and again."""
        return cls(tuple(spans), ends, sum((end - start for start, end in spans), NO_TIME))

    def worked(self, begins: datetime = EVER_BEFORE, ends: datetime = EVER_AFTER) -> timedelta:
        """Measure the work between two moments."""
        if not self.spans or (begins <= self.spans[0][0] and self.spans[-1][1] <= ends):
            return self.total
        pieces = (min(end, ends) - max(start, begins) for start, end in self.spans)
        return sum((piece for piece in pieces if piece > NO_TIME), NO_TIME)

    def reach(self, begins: datetime, left: timedelta) -> datetime:
        """Find the earliest moment at which this much has been worked; the week must hold enough."""
        passed = self.worked(ends=begins)
        for start, end in self.spans:
            if end - start >= passed + left:
                return start + passed + left
            passed -= end - start
        raise AssertionError("asked a week for more work than it holds")

    def reach_back(self, ends: datetime, left: timedelta) -> datetime:
        """Find the latest moment from which this much can still be worked; the week must hold enough."""
        missed = self.worked(begins=ends)
        for start, end in reversed(self.spans):
            if end - start >= missed + left:
                return end - missed - left
            missed -= end - start
        raise AssertionError("asked a week for more work than it holds")
