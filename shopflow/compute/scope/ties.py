"""What ties one choice to another: what it pulls in, what needs it, what it shuts out.

A set of choices is one whole number here, a bit for each: the choice given first has the highest bit, so of
two sets the larger number is the one that takes what was given first.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from functools import cache

from shopflow.compute.scope.solver import Scales


class Ties:
    """The choices that are still free once what must be in is in, and all that ties them together."""

    def __init__(self, scales: Scales) -> None:
        size = len(scales.costs)
        self.costs, self.worths = scales.costs[::-1], scales.worths[::-1]
        pulls = [_set(pulled, size) for pulled in reversed(scales.pulls)]
        must, never = _set(scales.must, size), _set(scales.never, size)
        self.worthy = sum(1 << bit for bit, worth in enumerate(self.worths) if worth)
        self.everything = union(pulls[bit] & ~must for bit in bits(self.worthy & ~must & ~never))
        self.needs = [pulled & self.everything for pulled in pulls]
        self.needed_by, self.apart = [0] * size, [0] * size
        for bit in bits(self.everything):
            for other in bits(self.needs[bit]):
                self.needed_by[other] |= 1 << bit
        for group in (_set(each, size) & self.everything for each in scales.groups):
            for bit in bits(group):
                self.apart[bit] |= group & ~(1 << bit)
        relations = zip(self.needs, self.needed_by, self.apart, strict=True)
        self.touches = [needs | needed_by | apart for needs, needed_by, apart in relations]
        self.sums = cache(self._sums)

    def places(self, taken: int) -> frozenset[int]:
        """The set as places in the order given."""
        return frozenset(len(self.costs) - 1 - bit for bit in bits(taken))

    def groups(self, free: int) -> list[int]:
        """The parts of a set that nothing ties to one another."""
        found = []
        while free:
            group, fresh = 0, free & -free
            while fresh:
                group |= fresh
                fresh = union(self.touches[bit] for bit in bits(fresh)) & free & ~group
            found.append(group)
            free &= ~group
        return found

    def busiest(self, group: int) -> int:
        """The choice that most of the others need; among these the one that shuts out most."""
        return max(bits(group), key=lambda bit: self._weight(bit, group))

    def take(self, bit: int, group: int) -> tuple[int, int]:
        """All that comes in with a choice, and what stays free after it."""
        taken = self.needs[bit] & group
        shut = self.shut_by(taken) & group
        gone = taken | shut | union(self.needed_by[each] for each in bits(shut))
        return taken, self._useful(group & ~gone)

    def shut_by(self, taken: int) -> int:
        """What stands apart from something that is in."""
        return union(self.apart[each] for each in bits(taken))

    def leave(self, bit: int, group: int) -> int:
        """What stays free if a choice stays out."""
        return self._useful(group & ~self.needed_by[bit])

    def _sums(self, taken: int) -> tuple[int, int]:
        """What a set costs and what it is worth."""
        inside = list(bits(taken))
        return sum(self.costs[bit] for bit in inside), sum(self.worths[bit] for bit in inside)

    def _useful(self, free: int) -> int:
        """Without what is worth nothing and what nothing of worth needs any more."""
        worthy = free & self.worthy
        return worthy | sum(1 << bit for bit in bits(free ^ worthy) if self.needed_by[bit] & worthy)

    def _weight(self, bit: int, group: int) -> tuple[int, int]:
        return (self.needed_by[bit] & group).bit_count(), (self.apart[bit] & group).bit_count()


def bits(number: int) -> Iterator[int]:
    """The bits that are set, the lowest first."""
    while number:
        lowest = number & -number
        yield lowest.bit_length() - 1
        number ^= lowest


def union(sets: Iterable[int]) -> int:
    """All bits that stand in any of the sets."""
    whole = 0
    for each in sets:
        whole |= each
    return whole


def _set(places: Iterable[int], size: int) -> int:
    return sum(1 << (size - 1 - place) for place in places)
