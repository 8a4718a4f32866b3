"""What an operation costs the shop, and what the shop asks for it.

cost = hours × what an hour of the department costs + materials (the band's figure) + outside work;
price = cost and the shop's margin on top. Hours are the catalogue's, moved by the shop's own signed work
where there is some. Each operation is reckoned to the penny (half a penny up); only the sum of a job is
rounded up to the shop's step. A range is low, likely and high; ranges of several operations add up in
squares, because not everything goes well, or badly, at once.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass, field
from decimal import ROUND_CEILING, ROUND_HALF_UP, Decimal

from shopflow.catalogue.models import MaterialBand, Operation, Terms
from shopflow.compute.hours import HoursEstimate

HIGHEST_PRICE = Decimal(99_999)
CENT = Decimal("0.01")
TENTH = Decimal("0.1")


@dataclass(frozen=True, slots=True)
class Range:
    low: Decimal
    likely: Decimal
    high: Decimal


@dataclass(frozen=True, slots=True)
class Line:
    """One operation of a job: its hours, what it costs the shop, and its share of the price.

    `jobs` is how many finished jobs of this shop the hours rest on; 0: the catalogue's planning figure.
    """

    operation: Operation
    hours: Decimal
    cost: Decimal
    price: Decimal
    jobs: int
    price_range: Range


@dataclass(frozen=True, slots=True)
class Prices:
    """The shop's terms for one kind of instrument: asked for the line of any operation."""

    kind: str
    terms: Terms
    bands: Mapping[str, MaterialBand]
    learned: Mapping[int, HoursEstimate] = field(default_factory=dict)

    def line(self, operation: Operation) -> Line:
        """An operation that is not done on this kind takes no hours."""
        hours = self.hours(operation)
        costs = self._costs(operation, hours)
        low, likely, high = (cents(self.with_margin(cost)) for cost in (costs.low, costs.likely, costs.high))
        found = self.learned.get(operation.pk)
        jobs = found.n if found else 0
        prices = Range(min(low, likely), likely, max(high, likely))
        return Line(operation, hours.likely, cents(costs.likely), likely, jobs, prices)

    def hours(self, operation: Operation) -> Range:
        """Low, likely and high, to a tenth of an hour."""
        found, known = operation.hours_for(self.kind), self.learned.get(operation.pk)
        if found is None:
            return Range(Decimal(0), Decimal(0), Decimal(0))
        if known is not None:
            found = (Decimal(known.low), Decimal(known.likely), Decimal(known.high))
        low, likely, high = (max(TENTH, one.quantize(TENTH, ROUND_HALF_UP)) for one in found)
        return Range(low, likely, high)

    def with_margin(self, cost: Decimal) -> Decimal:
        return cost * (1 + self.terms.margin_percent / 100)

    def rounded(self, price: Decimal) -> Decimal:
        """Up to the next whole step of the shop's."""
        step = self.step
        return min(HIGHEST_PRICE, (price / step).to_integral_value(ROUND_CEILING) * step)

    def steps_within(self, budget: Decimal) -> Decimal:
        """The most that work may come to before rounding, so that its rounded price keeps the budget."""
        return budget // self.step * self.step

    @property
    def step(self) -> int:
        return max(1, self.terms.round_to)

    def _costs(self, operation: Operation, hours: Range) -> Range:
        band, rate = self.bands.get(operation.materials), operation.department.rate
        materials = Range(band.low, band.likely, band.high) if band else Range(*[Decimal(0)] * 3)
        return Range(
            hours.low * rate + materials.low + operation.outside_cost,
            hours.likely * rate + materials.likely + operation.outside_cost,
            hours.high * rate + materials.high + operation.outside_cost,
        )


def together(ranges: Iterable[Range]) -> Range:
    """The range of a whole: likely figures added, distances to low and high added in squares."""
    rows = list(ranges)
    likely = sum((one.likely for one in rows), Decimal(0))
    below = sum(((one.likely - one.low) ** 2 for one in rows), Decimal(0)).sqrt()
    above = sum(((one.high - one.likely) ** 2 for one in rows), Decimal(0)).sqrt()
    return Range(cents(likely - below), cents(likely), cents(likely + above))


def cents(amount: Decimal) -> Decimal:
    return amount.quantize(CENT, ROUND_HALF_UP)
