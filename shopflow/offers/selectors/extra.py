"""What a remedy adds to a job under way, and what it costs: now, and opened once more later."""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, field
from decimal import Decimal

from shopflow.catalogue.knowledge import knowledge
from shopflow.catalogue.models import Operation, Remedy
from shopflow.compute import worknet
from shopflow.compute.errors import ComputeError
from shopflow.compute.worknet import Knowledge
from shopflow.instruments.models import Instrument
from shopflow.offers.pricing import Prices
from shopflow.workshop.selectors.stay import Stay, stay_of

from .prices import prices_for
from .remedies import fitting, work_of

__all__ = ["Extra", "JobUnderWay", "fitting"]

NOTHING = Decimal(0)


@dataclass(frozen=True, slots=True)
class Extra:
    """Operations that come on top, open work that falls away, and what both come to.

    `again` was done and is done once more, `in_vain` was done and is thrown away, `touched` is open work that
    comes after what is added; by operation's code the reasons. `cost` and `price` are of what is added.
    """

    operations: list[Operation]
    hours: Decimal
    cost: Decimal
    price: Decimal
    away: list[Operation] = field(default_factory=list)
    away_hours: Decimal = NOTHING
    away_cost: Decimal = NOTHING
    credit: Decimal = NOTHING
    again: frozenset[str] = frozenset()
    in_vain: frozenset[str] = frozenset()
    touched: frozenset[str] = frozenset()
    reasons: Mapping[str, tuple[str, ...]] = field(default_factory=dict)

    @property
    def asked(self) -> Decimal:
        """What the customer is asked for: what is added less what falls away, and never less than nothing."""
        return max(NOTHING, self.price - self.credit)

    @property
    def least(self) -> Decimal:
        """What it costs the shop more."""
        return max(NOTHING, self.cost - self.away_cost)


@dataclass(slots=True)
class JobUnderWay:
    """An instrument's job as a remedy meets it: what was done in this stay, and what is still to be done."""

    instrument: Instrument
    prices: Prices
    knowledge: Knowledge
    stay: Stay
    operations: dict[str, Operation] = field(default_factory=dict)

    @classmethod
    def of(cls, instrument: Instrument) -> JobUnderWay:
        """Read once for all remedies of a change order."""
        rows = list(Operation.objects.select_related("department"))
        known = knowledge(instrument.kind)
        stay = stay_of(instrument).among(known.codes)
        return cls(
            instrument, prices_for(instrument.kind, rows), known, stay, {one.code: one for one in rows}
        )

    def now(self, remedy: Remedy) -> Extra | None:
        """What has to be opened, done and closed in the state of today; None where it goes with nothing."""
        change = self.change(remedy)
        return None if change is None else self._priced(change)

    def later(self, remedy: Remedy) -> Extra | None:
        """The same in a job of its own: everything has to be opened and closed once more."""
        try:
            whole = self.knowledge.complete(self.codes_of(remedy))
        except ComputeError:
            return None
        return self._sum(whole.operations)

    def change(self, remedy: Remedy) -> worknet.Extra | None:
        """What the remedy does to the job; None where it does not go with the work that is open."""
        try:
            return self.knowledge.extra(self.stay.done, self.stay.todo, self.codes_of(remedy))
        except ComputeError:
            return None

    def codes_of(self, remedy: Remedy) -> list[str]:
        known = self.knowledge.codes
        return [one.code for one in work_of(remedy, self.instrument.kind) if one.code in known]

    def _priced(self, change: worknet.Extra) -> Extra:
        added, away = self._sum(change.added), self._sum(change.away)
        return Extra(
            added.operations,
            added.hours,
            added.cost,
            added.price,
            away.operations,
            away.hours,
            away.cost,
            away.price,
            change.again,
            change.in_vain,
            change.touched,
            change.reasons,
        )

    def _sum(self, codes: Iterable[str]) -> Extra:
        known = [self.operations[code] for code in codes if code in self.operations]
        rows: Sequence[Operation] = sorted(known, key=lambda one: (one.department.position, one.pk))
        lines = [self.prices.line(one) for one in rows]
        price = self.prices.rounded(sum((line.price for line in lines), NOTHING)) if lines else NOTHING
        hours = sum((line.hours for line in lines), NOTHING)
        return Extra(list(rows), hours, sum((line.cost for line in lines), NOTHING), price)
