"""Answers read off the list of all efficient sets; where they are too many, the solver is asked the same."""

from __future__ import annotations

import numpy as np

from shopflow.compute.scope.front import Front
from shopflow.compute.scope.solver import Pick, Scales
from shopflow.compute.scope.ties import Ties
from shopflow.compute.scope.ways import Ways


class Listed:
    """All efficient sets of these wishes."""

    def __init__(self, scales: Scales) -> None:
        self.scales = scales
        self.front = Front(Ways(Ties(scales)))

    def __len__(self) -> int:
        return len(self.front.costs)

    def least(self) -> Pick | None:
        """The cheapest set that keeps all rules; None if nothing does."""
        return self.pick(0) if len(self) else None

    def best(self, limit: int) -> Pick:
        """Most worth within the limit; among equals the cheapest; among those the preferred one."""
        return self.pick(self._number(limit))

    def above(self, pick: Pick) -> Pick | None:
        """The cheapest set worth more than this one, and the best for that money; None if none is listed."""
        number = self._number(pick.cost) + 1
        return self.pick(number) if number < len(self) else None

    def pick(self, number: int) -> Pick:
        """The set of this number."""
        return self.scales.pick(self.front.taken(number))

    def cost_and_worth(self, number: int) -> tuple[int, int]:
        """The same without the set: quicker."""
        return int(self.front.costs[number]), int(self.front.worths[number])

    def spread(self, most: int) -> list[int]:
        """Numbers of at most so many sets: all, or those nearest to evenly spread sums of money."""
        if len(self) <= most:
            return list(range(len(self)))
        sums = np.linspace(self.front.costs[0], self.front.costs[-1], most)
        return sorted({int(number) for number in np.searchsorted(self.front.costs, sums, side="right") - 1})

    def _number(self, limit: int) -> int:
        return int(np.searchsorted(self.front.costs, limit, side="right")) - 1
