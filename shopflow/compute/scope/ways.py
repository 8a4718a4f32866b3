"""The fork at the busiest choice of a knot: with it and without it, and what is still free in either case."""

from __future__ import annotations

from dataclasses import dataclass

from shopflow.compute.scope.ties import Knot, Settled, Ties

# So many forks are looked into; beyond that the work is too tangled to be gone through like this.
MOST_FORKS = 5_000


class TooTangled(Exception):
    """The sets are too many to go through them all."""


@dataclass(frozen=True, slots=True)
class Way:
    """What a set costs and what it is worth."""

    cost: int
    worth: int

    def __add__(self, other: Way) -> Way:
        return Way(self.cost + other.cost, self.worth + other.worth)


@dataclass(frozen=True, slots=True)
class Branch:
    """What comes in on one side of a fork, what it comes to, and the knots that are left on it."""

    taken: int
    way: Way
    knots: tuple[Knot, ...]


class Ways:
    """How to go through all sets that keep the rules; every fork is worked out once."""

    def __init__(self, ties: Ties) -> None:
        self.ties = ties
        self.forks: dict[Knot, tuple[Branch, ...]] = {}
        whole = ties.whole()
        self.trunk = self._branch(whole) if whole else None

    def fork(self, knot: Knot) -> tuple[Branch, ...]:
        """The sides of a knot's fork; none where its rules contradict each other."""
        if knot not in self.forks:
            if len(self.forks) >= MOST_FORKS:
                raise TooTangled
            self.forks[knot] = tuple(self._branch(settled) for settled in self.ties.fork(knot))
        return self.forks[knot]

    def _branch(self, settled: Settled) -> Branch:
        return Branch(settled.taken, Way(*self.ties.sums(settled.taken)), settled.knots)
