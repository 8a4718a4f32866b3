"""All ways to take from a small group of work, and the fork at the busiest tie of a large one."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from functools import cache

from shopflow.compute.scope.ties import Ties

# A group of no more than this is looked through at once.
FEW = 12


# So many forks are looked into; beyond that the work is too tangled to be gone through like this.
MOST_FORKS = 20_000


class TooTangled(Exception):
    """The sets are too many to go through them all."""


@dataclass(frozen=True, slots=True)
class Way:
    """One way to take from a group: its cost, its worth and what it takes."""

    cost: int
    worth: int
    taken: int

    def __add__(self, other: Way) -> Way:
        return Way(self.cost + other.cost, self.worth + other.worth, self.taken | other.taken)


NOTHING = Way(0, 0, 0)


@dataclass(frozen=True, slots=True)
class Fork:
    """A group with its busiest tie and without: what comes in with it, what stays free in either case."""

    taken: Way
    free_with: int
    free_without: int


class Ways:
    """How to go through all sets of the work that is tied so; every answer is worked out once."""

    def __init__(self, ties: Ties) -> None:
        self.ties = ties
        self.parts = cache(self._parts)
        self.of = cache(self._of)
        self.fork = cache(self._fork)
        self.forks_to_go = MOST_FORKS

    def is_small(self, group: int) -> bool:
        """May all its ways be listed?"""
        return group.bit_count() <= FEW

    def _parts(self, free: int) -> tuple[int, ...]:
        """The groups that nothing ties to one another, the small ones first."""
        return tuple(sorted(self.ties.groups(free), key=int.bit_count))

    def _fork(self, group: int) -> Fork:
        self.forks_to_go -= 1
        if self.forks_to_go < 0:
            raise TooTangled
        bit = self.ties.busiest(group)
        taken, free = self.ties.take(bit, group)
        return Fork(Way(*self.ties.sums(taken), taken), free, self.ties.leave(bit, group))

    def _of(self, group: int) -> tuple[Way, ...]:
        """All ways that are worth their money, the cheapest first."""
        if not group:
            return (NOTHING,)
        fork = self.fork(group)
        inside = (fork.taken + way for way in self.of(fork.free_with))
        return self._worth_it([*self.of(fork.free_without), *inside])

    def _worth_it(self, ways: Iterable[Way]) -> tuple[Way, ...]:
        kept: list[Way] = []
        for way in sorted(ways, key=lambda way: (way.cost, -way.worth, -(way.taken & self.ties.worthy))):
            if not kept or way.worth > kept[-1].worth:
                kept.append(way)
        return tuple(kept)
