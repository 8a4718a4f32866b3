"""The best set for one limit and the next better one, from lists kept short by what is known beforehand."""

from __future__ import annotations

from collections.abc import Iterable
from functools import cache

from shopflow.compute.scope.front import Front
from shopflow.compute.scope.slope import Slope, Within, around
from shopflow.compute.scope.solver import Pick, Scales
from shopflow.compute.scope.ties import Ties
from shopflow.compute.scope.ways import TooTangled, Ways

MOST_KEYS = 8_000_000
# A bold guess makes a short list. If it was too bold the list is empty, and a more timid one is tried.
GUESSES = (32, 8, 2, 1)


class Near:
    """Answers from short lists about any limit; from the solver where even these are too long."""

    def __init__(self, scales: Scales) -> None:
        self.scales, self.ways = scales, Ways(Ties(scales))
        self.must = scales.pick(scales.must)
        self.bounds = cache(lambda limit: around(self.ways, limit))

    def best(self, limit: int) -> Pick:
        """Most worth within the limit; among equals the cheapest; among those the first by order given."""
        try:
            return self._best(limit - self.must.cost)
        except (TooTangled, RecursionError):
            return self.scales.best(limit)

    def above(self, pick: Pick) -> Pick | None:
        """The cheapest set worth more than this one, and the best for that money; None if there is none."""
        try:
            return self._above(pick.cost - self.must.cost, pick.worth - self.must.worth + 1)
        except (TooTangled, RecursionError):
            return self.scales.above(pick)

    def _best(self, limit: int) -> Pick:
        bounds = self.bounds(limit)
        sure = bounds.below.worth
        hoped = max(bounds.most(limit) - sure, 0)
        front = self._first(bounds.slope, ((sure + hoped - hoped // guess, limit) for guess in GUESSES))
        return self.scales.pick(front.taken(len(front.costs) - 1))

    def _above(self, cost: int, floor: int) -> Pick | None:
        bounds = self.bounds(cost)
        if bounds.above.worth < floor:
            return None
        room = bounds.above.cost - cost
        front = self._first(bounds.slope, ((floor, cost + room // guess) for guess in GUESSES))
        return self.scales.pick(front.taken(0))

    def _first(self, slope: Slope, guesses: Iterable[tuple[int, int]]) -> Front:
        """The first list that is not empty; the last guess is sure to give one."""
        lists = (Front(self.ways, Within(slope, floor, limit), MOST_KEYS) for floor, limit in guesses)
        return next(front for front in lists if len(front.costs))
