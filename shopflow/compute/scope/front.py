"""Every efficient set of work at once: no cheaper set is worth as much, no set for this money is worth more.

A set is told by its key, one whole number: its cost above, its worth taken off below. So adding work to a
set is adding a number to its key, and sorting keys sorts by cost, the worthiest first. Each knot has its list
of keys, worked out once: those with its busiest choice and those without it, laid together; knots that
nothing ties together are added to one another.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

from shopflow.compute.scope.ties import Knot
from shopflow.compute.scope.ways import Branch, TooTangled, Ways

Keys = npt.NDArray[np.int64]

# So many keys may be sorted on the way; beyond it the solver is asked instead.
MOST_KEYS = 20_000_000
# What laying one more list costs, however few its keys.
KEYS_PER_LIST = 500
# Keys are signed whole numbers of 64 bits.
MOST_BITS = 62


@dataclass(frozen=True, slots=True)
class Laid:
    """A branch as lists: its own key, its knots, and the keys once so many of them were added."""

    branch: Branch
    knots: tuple[Knot, ...]
    sums: list[Keys]


class Front:
    """All efficient sets that keep the rules, by rising cost."""

    def __init__(self, ways: Ways) -> None:
        self.ways, self.keys_to_go = ways, MOST_KEYS
        self.shift = sum(ways.ties.worths).bit_length()
        self.low = (1 << self.shift) - 1
        if sum(ways.ties.costs).bit_length() + self.shift > MOST_BITS:
            raise TooTangled
        self.lists: dict[Knot, tuple[Keys, tuple[Laid, ...]]] = {}
        self.best: dict[tuple[int, int, int], int] = {}
        self.trunk = self._lay(ways.trunk) if ways.trunk else None
        self.keys = self.trunk.sums[-1] if self.trunk else _NONE
        self.costs, self.worths = self._costs(self.keys), self._worths(self.keys)

    def taken(self, number: int) -> frozenset[int]:
        """Of all sets with the cost and worth of this number the one that is preferred."""
        assert self.trunk  # There is no number without one.
        return self.ways.ties.places(self._taken(self.trunk, len(self.trunk.knots), int(self.keys[number])))

    def _list(self, knot: Knot) -> Keys:
        if knot not in self.lists:
            laid = tuple(self._lay(branch) for branch in self.ways.fork(knot))
            both = np.concatenate([each.sums[-1] for each in laid]) if laid else _NONE
            self.lists[knot] = (self._efficient(both) if len(laid) > 1 else both), laid
        return self.lists[knot][0]

    def _lay(self, branch: Branch) -> Laid:
        """The longest list first: what is short is then added to it, one by one."""
        knots = sorted(branch.knots, key=lambda knot: -len(self._list(knot)))
        sums = [np.array([self._key(branch)], dtype=np.int64)]
        for knot in knots:
            more = self._list(knot)
            self._count(len(sums[-1]) * len(more))
            short, long = sorted((sums[-1], more), key=len)
            sums.append(self._efficient((short[:, None] + long).ravel()))
        return Laid(branch, tuple(knots), sums)

    def _key(self, branch: Branch) -> int:
        return (branch.way.cost << self.shift) - branch.way.worth

    def _efficient(self, keys: Keys) -> Keys:
        """Without those for whose money, or less, another is worth as much."""
        keys.sort(kind="stable")  # Runs that are sorted already are only merged.
        worths = self._worths(keys)
        keys = keys[_is_more(worths, worths)]  # Quick, and leaves less to the slower sweep.
        worths = self._worths(keys)
        return keys[_is_more(worths, np.maximum.accumulate(worths))]

    def _count(self, keys: int) -> None:
        self.keys_to_go -= keys + KEYS_PER_LIST
        if self.keys_to_go < 0:
            raise TooTangled

    def _costs(self, keys: Keys) -> Keys:
        return (keys + self.low) >> self.shift

    def _worths(self, keys: Keys) -> Keys:
        return -keys & self.low

    def _taken(self, laid: Laid, many: int, key: int) -> int:
        """The preferred set of a branch with so many of its knots that comes to this key."""
        if not many:
            return laid.branch.taken
        asked = id(laid), many, key
        if asked not in self.best:
            knot = laid.knots[many - 1]
            before = key - self._list(knot)
            there = before[_stand_in(laid.sums[many - 1], before)]
            found = [
                self._taken(laid, many - 1, int(rest)) | self._taken_of(knot, key - int(rest))
                for rest in there
            ]
            self.best[asked] = max(found, key=self.ways.ties.rank)
        return self.best[asked]

    def _taken_of(self, knot: Knot, key: int) -> int:
        return max(self._sides(knot, key), key=self.ways.ties.rank)

    def _sides(self, knot: Knot, key: int) -> Iterator[int]:
        for laid in self.lists[knot][1]:
            if _stand_in(laid.sums[-1], np.array([key], dtype=np.int64))[0]:
                yield self._taken(laid, len(laid.knots), key)


_NONE: Keys = np.array([], dtype=np.int64)


def _is_more(worths: Keys, so_far: Keys) -> npt.NDArray[np.bool_]:
    """Is each worth more than the one before it (or than the most before it)? The first one is."""
    is_more = np.ones(len(worths), dtype=bool)
    np.greater(worths[1:], so_far[:-1], out=is_more[1:])
    return is_more


def _stand_in(keys: Keys, asked: Keys) -> npt.NDArray[np.bool_]:
    """Which of those asked for stand in a sorted list?"""
    if not len(keys):
        return np.zeros(len(asked), dtype=bool)
    places = np.minimum(np.searchsorted(keys, asked), len(keys) - 1)
    return keys[places] == asked
