"""What a set of remedies comes to as one job: every operation once, with what opens it and what closes it."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass, field
from decimal import ROUND_CEILING, ROUND_HALF_UP, Decimal

from shopflow.catalogue.models import MaterialBand, Operation, Remedy, Terms
from shopflow.instruments.models import Instrument

from .terms import the_terms

HIGHEST_PRICE = Decimal(99_999)
CENT = Decimal("0.01")


@dataclass(frozen=True, slots=True)
class Line:
    """One operation of a job: its hours, what it costs the shop, and its share of the price."""

    operation: Operation
    hours: Decimal
    cost: Decimal
    price: Decimal


@dataclass(frozen=True, slots=True)
class Job:
    lines: list[Line]
    price: Decimal

    @property
    def hours(self) -> Decimal:
        return sum((line.hours for line in self.lines), Decimal(0))

    @property
    def cost(self) -> Decimal:
        return sum((line.cost for line in self.lines), Decimal(0))


@dataclass(slots=True)
class Reckoner:
    """Read once for an instrument, in four queries; then asked as often as need be."""

    instrument: Instrument
    terms: Terms
    operations: dict[int, Operation] = field(default_factory=dict)
    bands: dict[str, MaterialBand] = field(default_factory=dict)

    @classmethod
    def of(cls, instrument: Instrument) -> Reckoner:
        rows = Operation.objects.in_use().select_related("department").prefetch_related("must", "brings")
        kept = {one.pk: one for one in rows if one.hours_for(instrument.kind) is not None}
        bands = {band.code: band for band in MaterialBand.objects.all()}
        return cls(instrument, the_terms(), kept, bands)

    def job(self, remedies: Iterable[Remedy]) -> Job:
        """The whole job for these remedies, with what is part of every job."""
        own = [one.pk for remedy in remedies for one in remedy.operations.all()]
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
        lines = [self._line(one) for one in operations]
        return Job(lines, self.rounded(sum((line.price for line in lines), Decimal(0))))

    def _line(self, operation: Operation) -> Line:
        found = operation.hours_for(self.instrument.kind)
        hours = found[1] if found else Decimal(0)
        band = self.bands.get(operation.materials)
        cost = (
            hours * operation.department.rate + (band.likely if band else Decimal(0)) + operation.outside_cost
        )
        price = cost * (1 + self.terms.margin_percent / 100)
        return Line(operation, hours, _cents(cost), _cents(price))

    def rounded(self, price: Decimal) -> Decimal:
        """Up to the next whole step of the shop's."""
        step = max(1, self.terms.round_to)
        return min(HIGHEST_PRICE, (price / step).to_integral_value(ROUND_CEILING) * step)


def _cents(amount: Decimal) -> Decimal:
    return amount.quantize(CENT, ROUND_HALF_UP)
