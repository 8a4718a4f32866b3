"""What a set of remedies comes to as one job: every operation once, with what opens it and what closes it."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass, field
from decimal import Decimal

from shopflow.catalogue.models import Operation, Remedy, Terms
from shopflow.instruments.models import Instrument
from shopflow.offers.pricing import HIGHEST_PRICE, Line, Prices, Range, together

from .prices import prices_for

__all__ = ["HIGHEST_PRICE", "Job", "Line", "Reckoner"]


@dataclass(frozen=True, slots=True)
class Job:
    lines: list[Line]
    price: Decimal

    @property
    def hours(self) -> Decimal:
        return sum((line.hours for line in self.lines), Decimal(0))

    @property
    def price_range(self) -> Range:
        return together(line.price_range for line in self.lines)

    @property
    def cost(self) -> Decimal:
        return sum((line.cost for line in self.lines), Decimal(0))


@dataclass(slots=True)
class Reckoner:
    """Read once for an instrument, in six queries; then asked as often as need be."""

    instrument: Instrument
    prices: Prices
    operations: dict[int, Operation] = field(default_factory=dict)
    lines: dict[int, Line] = field(default_factory=dict)

    @classmethod
    def of(cls, instrument: Instrument) -> Reckoner:
        rows = Operation.objects.in_use().select_related("department").prefetch_related("must", "brings")
        kept = {one.pk: one for one in rows if one.hours_for(instrument.kind) is not None}
        return cls(instrument, prices_for(instrument.kind, kept.values()), kept)

    @property
    def terms(self) -> Terms:
        return self.prices.terms

    def job(self, remedies: Iterable[Remedy], added: Iterable[int] = ()) -> Job:
        """The whole job for these remedies and operations, with what is part of every job."""
        own = [*added, *(one.pk for remedy in remedies for one in remedy.operations.all())]
        return self._priced(self.with_what_they_need(own))

    def with_what_they_need(self, own: Iterable[int]) -> list[Operation]:
        """These, what must be open for them, what closes it again, and what every job has; each once."""
        every = [one.pk for one in self.operations.values() if one.in_every_job]
        wanted, waiting = dict[int, Operation](), [*own, *every]
        while waiting:
            operation = self.operations.get(waiting.pop())
            if operation is None or operation.pk in wanted:
                continue
            wanted[operation.pk] = operation
            waiting += [one.pk for one in (*operation.must.all(), *operation.brings.all())]
        return sorted(wanted.values(), key=lambda one: (one.department.position, one.pk))

    def _priced(self, operations: Sequence[Operation]) -> Job:
        lines = [self.line(one) for one in operations]
        return Job(lines, self.rounded(sum((line.price for line in lines), Decimal(0))))

    def line(self, operation: Operation) -> Line:
        """Worked out once for each operation."""
        if operation.pk not in self.lines:
            self.lines[operation.pk] = self.prices.line(operation)
        return self.lines[operation.pk]

    def rounded(self, price: Decimal) -> Decimal:
        """Up to the next whole step of the shop's."""
        return self.prices.rounded(price)
