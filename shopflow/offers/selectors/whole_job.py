"""What a set of remedies comes to as one job: every operation once, with what opens it and what closes it."""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, field
from decimal import Decimal

from shopflow.catalogue.knowledge import knowledge
from shopflow.catalogue.models import Operation, Remedy, Terms
from shopflow.compute.errors import ComputeError
from shopflow.compute.worknet import Completed, Knowledge
from shopflow.instruments.models import Instrument
from shopflow.offers.pricing import HIGHEST_PRICE, Line, Prices, Range, together

from .prices import prices_for
from .reasons import reasons_for
from .remedies import work_of

__all__ = ["HIGHEST_PRICE", "Job", "Line", "Reckoner"]


@dataclass(frozen=True, slots=True)
class Job:
    """Its lines and price; by operation's code why it came along; what was asked for in vain, and why."""

    lines: list[Line]
    price: Decimal
    reasons: Mapping[str, tuple[str, ...]] = field(default_factory=dict)
    in_vain: tuple[tuple[str, str], ...] = ()

    @property
    def hours(self) -> Decimal:
        return sum((line.hours for line in self.lines), Decimal(0))

    @property
    def price_range(self) -> Range:
        return together(line.price_range for line in self.lines)

    @property
    def cost(self) -> Decimal:
        return sum((line.cost for line in self.lines), Decimal(0))

    @property
    def codes(self) -> frozenset[str]:
        return frozenset(line.operation.code for line in self.lines)


@dataclass(slots=True)
class Reckoner:
    """Read once for an instrument, in five queries; then asked as often as need be."""

    instrument: Instrument
    prices: Prices
    knowledge: Knowledge
    operations: dict[int, Operation] = field(default_factory=dict)
    lines: dict[int, Line] = field(default_factory=dict)
    works: dict[int, list[Operation]] = field(default_factory=dict)

    @classmethod
    def of(cls, instrument: Instrument) -> Reckoner:
        rows = Operation.objects.in_use().select_related("department")
        kept = {one.pk: one for one in rows if one.hours_for(instrument.kind) is not None}
        prices = prices_for(instrument.kind, kept.values())
        return cls(instrument, prices, knowledge(instrument.kind), kept)

    @property
    def terms(self) -> Terms:
        return self.prices.terms

    @property
    def by_code(self) -> dict[str, Operation]:
        return {one.code: one for one in self.operations.values()}

    def job(self, remedies: Iterable[Remedy], added: Iterable[int] = ()) -> Job:
        """The whole job for these remedies and operations: opened, done, closed again, for the least."""
        own = [one for remedy in remedies for one in self.operations_of(remedy)]
        own += [self.operations[pk] for pk in added if pk in self.operations]
        codes = list(dict.fromkeys(one.code for one in own))
        whole = self._completed([*codes, *self.every_job])
        return self._told(whole)

    def job_of(self, codes: Iterable[str]) -> Job:
        """A job that is whole as it stands, with the reason why each of it belongs to the rest."""
        codes = frozenset(codes)
        return self._told(Completed(tuple(sorted(codes)), reasons_for(self.knowledge, codes)))

    def operations_of(self, remedy: Remedy) -> list[Operation]:
        """What the remedy takes, as far as it is done on this kind of instrument."""
        if remedy.pk not in self.works:
            known, all_of_it = self.operations, work_of(remedy, self.instrument.kind)
            self.works[remedy.pk] = [known[one.pk] for one in all_of_it if one.pk in known]
        return self.works[remedy.pk]

    @property
    def every_job(self) -> list[str]:
        return [one.code for one in self.operations.values() if one.in_every_job]

    def _completed(self, codes: list[str]) -> Completed:
        """Completed as one job; where nothing answers both sides of a contradiction, each side by itself."""
        known = [code for code in codes if code in self.knowledge.codes]
        try:
            return self.knowledge.complete(known)
        except ComputeError:
            alone = [self.knowledge.complete([code]) for code in known]
        reasons = {code: words for one in alone for code, words in one.reasons.items()}
        return Completed(tuple(sorted({code for one in alone for code in one.operations})), reasons)

    def _told(self, whole: Completed) -> Job:
        known = self.by_code
        rows = [known[code] for code in whole.operations if code in known]
        lines = [self.line(one) for one in _on_the_page(rows)]
        price = self.rounded(sum((line.price for line in lines), Decimal(0)))
        return Job(lines, price, whole.reasons, whole.in_vain)

    def line(self, operation: Operation) -> Line:
        """Worked out once for each operation."""
        if operation.pk not in self.lines:
            self.lines[operation.pk] = self.prices.line(operation)
        return self.lines[operation.pk]

    def rounded(self, price: Decimal) -> Decimal:
        """Up to the next whole step of the shop's."""
        return self.prices.rounded(price)


def _on_the_page(operations: Iterable[Operation]) -> Sequence[Operation]:
    return sorted(operations, key=lambda one: (one.department.position, one.pk))
