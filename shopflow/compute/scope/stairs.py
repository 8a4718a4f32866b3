"""The staircase of benefit against money by asking for one budget after another."""

from __future__ import annotations

import heapq
from typing import Protocol

from shopflow.compute.scope.solver import Pick


class Answers(Protocol):
    """Who can say what a limit buys, and what the next better set is."""

    def least(self) -> Pick | None:
        """The cheapest set that keeps all rules; None if nothing does."""

    def best(self, limit: int) -> Pick:
        """Most worth within the limit."""

    def above(self, pick: Pick) -> Pick | None:
        """The cheapest set worth more."""


def staircase(answers: Answers, least: int, everything: int, most: int) -> tuple[list[Pick], bool]:
    """At most so many steps, and whether none is missing between them.

    An exact fit at the middle of the widest gap between two known steps, again and again; where nothing lies
    below the middle, the next step above the lower one.
    """
    low, high = answers.best(least), answers.best(everything)
    picks = {low.cost: low, high.cost: high}
    gaps = [(low.cost - high.cost, low.cost, high.cost)] if low.cost < high.cost else []
    while gaps and len(picks) < most:
        _, start, end = heapq.heappop(gaps)
        for found, seen_below in _between(answers, picks[start], picks[end]):
            picks[found.cost] = found
            heapq.heappush(gaps, (found.cost - end, found.cost, end))
            if seen_below:
                heapq.heappush(gaps, (start - found.cost, start, found.cost))
    in_order = [picks[cost] for cost in sorted(picks)]
    return in_order, not gaps and all(pick.is_proven for pick in in_order)


def _between(answers: Answers, low: Pick, high: Pick) -> list[tuple[Pick, bool]]:
    """A step between two known ones, and whether there may be more below it; empty when there is none."""
    half = (low.cost + high.cost) // 2
    middle = answers.best(half)
    if middle.worth > low.worth:
        return [(middle, True)]
    above = answers.above(low)
    return [(above, False)] if above and above.cost < high.cost else []
