"""What one thing more costs on top of a set that is kept as it is."""

from __future__ import annotations

from collections.abc import Iterable
from decimal import Decimal

from shopflow.compute.scope.answers import Point
from shopflow.compute.scope.choices import Choice, Exclusive, Rules, read
from shopflow.compute.scope.solver import Scales
from shopflow.compute.scope.ties import Knot, Settled, Ties, union

NODES = 0


class Adding:
    """Choices and rules, to be asked for additions; nothing that is worth something comes in unasked.

    Parameters and errors as for `fit`.

    >>> rules = [({"shim"}, {"off"}), ({"off"}, {"on"})]
    >>> work = Adding([Choice("shim", 400, 1), Choice("off", 300), Choice("on", 900)], [], rules)
    >>> work.on_top([], "shim").cost, work.on_top(["off", "on"], "shim").cost
    (Decimal('1600'), Decimal('400'))
    """

    def __init__(self, choices: Iterable[Choice], exclusive: Exclusive, rules: Rules) -> None:
        self.wishes = read(choices, {}, exclusive, (), (), rules)
        self.scales = Scales(self.wishes, NODES)
        self.ties = Ties(self.scales)

    def on_top(self, chosen: Iterable[str], id: str) -> Point | None:
        """What comes in, besides what is chosen, to have this, too; None where it cannot be beside it."""
        kept = self._bits(chosen)
        added = self._bits([id])
        others = self.ties.worthy & ~kept & ~added
        whole = Knot(self.ties.everything, self.ties.clauses)
        settled = self.ties.settle(whole, take=kept | added, leave=others)
        best = self._cheapest(settled)
        if best is None:
            return None
        places = self.ties.places(best & ~kept)
        ids = tuple(each.id for place, each in enumerate(self.wishes.choices) if place in places)
        cost = self.wishes.cost(ids)
        return Point(Decimal(cost), sum(each.benefit for each in self.wishes.choices if each.id in ids), ids)

    def _cheapest(self, settled: Settled | None) -> int | None:
        """Of all that keeps the rules from here on the cheapest, and of these the preferred one."""
        if settled is None:
            return None
        whole = settled.taken
        for knot in settled.knots:
            sides = [side for side in map(self._cheapest, self.ties.fork(knot)) if side is not None]
            if not sides:
                return None
            whole |= min(sides, key=lambda taken: (self.ties.sums(taken)[0], -self.ties.rank(taken)))
        return whole

    def _bits(self, ids: Iterable[str]) -> int:
        return union(self.ties.bit(self.scales.place[id]) for id in ids if id in self.scales.place)
