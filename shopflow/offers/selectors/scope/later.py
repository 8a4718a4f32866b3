"""What is left out of a scope: what it would add now, and what it costs once all is closed again."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from decimal import Decimal

from .weighing import Weighed, Weighing

# Cheap only now: later it costs at least twice as much, because something is open now.
MUCH_MORE = 2


@dataclass(frozen=True, slots=True)
class Later:
    """The lightest remedy's price now and later; whether it rides on something that is open."""

    remedy: str
    now: Decimal
    later: Decimal
    rides: bool

    @property
    def saved(self) -> Decimal:
        return self.later - self.now

    @property
    def is_cheap_only_now(self) -> bool:
        return self.rides and self.later >= self.now * MUCH_MORE


def later_prices(weighing: Weighing, chosen: set[int], left: Iterable[Weighed]) -> dict[int, Later]:
    """By the finding's key, for the lightest remedy of each; a job of its own has what every job has."""
    lines = {pk: weighing.line(one).price for pk, one in weighing.reckoner.operations.items()}
    every = sum((lines[one.pk] for one in weighing.every_job), Decimal(0))
    before = sum((lines[pk] for pk in chosen), Decimal(0))
    found = {}
    for one in left:
        remedy = one.remedies[0]
        needed = weighing.all_needed([remedy])
        more = sum((lines[pk] for pk in needed - chosen), Decimal(0))
        alone = sum((lines[pk] for pk in needed), every)
        found[one.pk] = Later(
            remedy.name,
            weighing.price(before + more) - weighing.price(before),
            weighing.price(alone),
            bool(needed & chosen),
        )
    return found
