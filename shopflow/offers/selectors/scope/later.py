"""What is left out of a scope: what it would add now, and what it costs once all is closed again."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from decimal import Decimal
from functools import lru_cache

from shopflow.catalogue.models import Remedy
from shopflow.compute.scope import Adding, Point

from .put import Put, operations_in, put, remedy_id
from .weighing import Weighed, Weighing

# Cheap only now: later it costs at least twice as much, because something is open now.
MUCH_MORE = 2


@dataclass(frozen=True, slots=True)
class Later:
    """The lightest remedy that can be beside the scope: its price now and later; what it rides on."""

    remedy: Remedy
    now: Decimal
    later: Decimal
    rides: bool

    @property
    def saved(self) -> Decimal:
        return self.later - self.now

    @property
    def is_cheap_only_now(self) -> bool:
        return self.rides and self.later >= self.now * MUCH_MORE


def later_prices(weighing: Weighing, chosen: Iterable[str], left: Iterable[Weighed]) -> dict[int, Later]:
    """By the finding's key; none for what no remedy mends beside what is chosen."""
    added = _Added(weighing, tuple(chosen))
    return {one.pk: later for one in left if (later := added.later(one)) is not None}


class _Added:
    def __init__(self, weighing: Weighing, chosen: tuple[str, ...]) -> None:
        self.weighing, self.chosen = weighing, chosen
        everything = {one.pk: one.remedies for one in weighing.mendable}
        ids = [remedy_id(pk, remedy) for pk, remedies in everything.items() for remedy in remedies]
        self.alone = _alone(put(weighing, everything, dict.fromkeys(ids, 1.0)))
        self.every_job = {weighing.reckoner.by_code[code].pk for code in weighing.every_job}
        self.before = sum(
            (weighing.line(weighing.reckoner.operations[pk]).price for pk in operations_in(chosen)),
            Decimal(0),
        )

    def later(self, one: Weighed) -> Later | None:
        for remedy in one.remedies:
            id = remedy_id(one.pk, remedy)
            added, alone = self.alone.adding.on_top(self.chosen, id), self.alone.of(id)
            if added is not None and alone is not None:
                price = self.weighing.price
                needed = operations_in(alone.chosen) - self.every_job
                return Later(
                    remedy,
                    price(self.before + added.cost) - price(self.before),
                    price(alone.cost),
                    bool(needed & operations_in(self.chosen)),
                )
        return None


class _Alone:
    """Each remedy as a job of its own, worked out once."""

    def __init__(self, put: Put) -> None:
        self.adding = Adding(put.choices, put.exclusive, put.rules)
        self.known: dict[str, Point | None] = {}

    def of(self, id: str) -> Point | None:
        if id not in self.known:
            self.known[id] = self.adding.on_top((), id)
        return self.known[id]


@lru_cache(maxsize=4)
def _alone(put: Put) -> _Alone:
    return _Alone(put)
