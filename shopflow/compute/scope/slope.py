"""How much work can be worth at most if money has a price: quick to say, and a bound on every set.

With a price of worth for each step of money the limit falls away: each group is taken for itself, the way
with the most worth after its price. The price at which the choice just changes leads to the two sets on
either side of a limit that no mixture of others beats (Lagrange's relaxation; Fisher 1981, from memory).
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import cache

from shopflow.compute.scope.ties import bits
from shopflow.compute.scope.ways import NOTHING, Way, Ways

# Half a step of worth: far above the rounding of floats, below any difference that counts.
SLACK = 0.5
MOST_PRICES = 60


class Slope:
    """The best of every group at one price of money."""

    def __init__(self, ways: Ways, price: float) -> None:
        self.ways, self.price = ways, price
        self.best = cache(self._best)

    def net(self, free: int) -> float:
        """The most that all that is free can be worth after its price."""
        return self._net(self.best(free))

    def _best(self, free: int) -> Way:
        whole = NOTHING
        for group in self.ways.parts(free):
            whole += self._best_of_group(group)
        return whole

    def _best_of_group(self, group: int) -> Way:
        if self.ways.is_small(group):
            return max(self.ways.of(group), key=self._net)
        fork = self.ways.fork(group)
        return max(fork.taken + self.best(fork.free_with), self.best(fork.free_without), key=self._net)

    def _net(self, way: Way) -> float:
        return way.worth - self.price * way.cost


@dataclass(frozen=True, slots=True)
class Within:
    """Only sets worth `floor` or more for `limit` or less are wanted; `slope` bounds what may still come."""

    slope: Slope
    floor: int
    limit: int

    def least(self, rest: float) -> float:
        """What a set must be worth after its price if `rest` is the most that may still be added."""
        return self.floor - self.slope.price * self.limit - rest - SLACK


@dataclass(frozen=True, slots=True)
class Bounds:
    """What is known of a limit beforehand: a set that keeps it, a better one that does not, their slope.

    If all that helps keeps the limit, both are that.
    """

    slope: Slope
    below: Way
    above: Way

    def most(self, limit: int) -> int:
        """No set within the limit is worth more."""
        return int(self.slope.net(self.slope.ways.ties.everything) + self.slope.price * limit + SLACK)


def around(ways: Ways, limit: int) -> Bounds:
    """Bounds by the price at which the best choice just steps over the limit."""
    free = ways.ties.everything
    slope, below = Slope(ways, 0.0), NOTHING
    above = slope.best(free)
    if above.cost <= limit:
        return Bounds(slope, above, above)
    for _ in range(MOST_PRICES):
        slope = Slope(ways, (above.worth - below.worth) / (above.cost - below.cost))
        between = slope.best(free)
        if slope.net(free) <= below.worth - slope.price * below.cost + SLACK:
            break
        below, above = (between, above) if between.cost <= limit else (below, between)
    return Bounds(slope, _filled(ways, below, limit), above)


def _filled(ways: Ways, way: Way, limit: int) -> Way:
    """The same with whatever else still fits, the best for its money first."""
    ties = ways.ties
    more = (ties.needs[bit] for bit in bits(ties.everything & ties.worthy & ~way.taken))
    for wanted in sorted(more, key=lambda wanted: _dearness(*ties.sums(wanted))):
        fresh = wanted & ~way.taken
        cost, worth = ties.sums(fresh)
        if way.cost + cost <= limit and not ties.shut_by(fresh) & way.taken:
            way += Way(cost, worth, fresh)
    return way


def _dearness(cost: int, worth: int) -> float:
    return cost / worth
