"""What ties one choice to another: rules, and of which work only one may be taken, worked out bit by bit.

A set of choices is one whole number here, a bit for each. A rule is two such numbers: if all of the first is
in, something of the second must be. What is decided by a choice follows at once: the last head of a rule
comes in, the last of a body that must not be stays out, work that nothing asks for any more stays out, and
work that costs nothing and asks for nothing comes in. The rest falls into knots that nothing ties together.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterable, Iterator
from dataclasses import dataclass
from itertools import combinations

from shopflow.compute.scope.solver import Scales

Clause = tuple[int, int]


@dataclass(frozen=True, slots=True)
class Knot:
    """Choices that are still free, and the rules that tie them to one another."""

    free: int
    clauses: frozenset[Clause]


@dataclass(frozen=True, slots=True)
class Settled:
    """What came in, and the knots that are left."""

    taken: int
    knots: tuple[Knot, ...]


class Ties:
    """The choices as bits, and the rules between them.

    Of two sets of the same cost and worth the one with the larger `rank` is preferred: it takes what is worth
    something and was given first; of mere enabling work it leaves what came last.
    """

    def __init__(self, scales: Scales) -> None:
        worthy = [place for place, worth in enumerate(scales.worths) if worth]
        others = [place for place, worth in enumerate(scales.worths) if not worth]
        self.place_of = [*others, *reversed(worthy)]
        self.bit_of = {place: bit for bit, place in enumerate(self.place_of)}
        self.costs = [scales.costs[place] for place in self.place_of]
        self.worths = [scales.worths[place] for place in self.place_of]
        self.worthy = sum(1 << bit for bit, worth in enumerate(self.worths) if worth)
        self.costly = sum(1 << bit for bit, cost in enumerate(self.costs) if cost)
        self.enabling = (1 << len(others)) - 1
        clauses = [(self._set(body), self._set(heads)) for body, heads in scales.rules]
        clauses += [
            (self._set(pair), 0) for group in scales.groups for pair in combinations(sorted(group), 2)
        ]
        self.clauses = frozenset(_strongest(self._reachable(clauses)))
        self.everything = self.worthy | union(body | heads for body, heads in self.clauses)

    def whole(self) -> Settled | None:
        """All that is free once what must be is in; None if nothing keeps all rules."""
        return self.settle(Knot(self.everything, self.clauses))

    def fork(self, knot: Knot) -> list[Settled]:
        """The knot with its busiest choice and without it, as far as either can be."""
        bit = self.busiest(knot)
        both = self.settle(knot, take=bit), self.settle(knot, leave=bit)
        return [settled for settled in both if settled is not None]

    def busiest(self, knot: Knot) -> int:
        """The choice that most rules speak of; of several the one in the middle, to halve long chains."""
        counts = Counter(bit for body, heads in knot.clauses for bit in bits(body | heads))
        if not counts:
            return knot.free & -knot.free
        most = max(counts.values())
        tied = sorted(bit for bit, count in counts.items() if count == most)
        return tied[len(tied) // 2]

    def settle(self, knot: Knot, *, take: int = 0, leave: int = 0) -> Settled | None:
        """What follows from taking and leaving; None where a rule is broken."""
        taken = left = 0
        clauses: Iterable[Clause] = knot.clauses
        while True:
            taken, left = taken | take, left | leave
            still_open = None if taken & left else _still_open(clauses, taken, left)
            if still_open is None:
                return None
            clauses = still_open
            take, leave = _forced(clauses)
            if not take | leave:
                take, leave = self._plain(knot.free & ~taken & ~left, clauses)
            if not take | leave:
                return Settled(taken, _knots(knot.free & ~taken & ~left, clauses))

    def rank(self, taken: int) -> int:
        """The larger is preferred among sets of the same cost and worth."""
        return taken ^ self.enabling

    def bit(self, place: int) -> int:
        """The bit of a place in the order given."""
        return 1 << self.bit_of[place]

    def _set(self, places: Iterable[int]) -> int:
        return union(map(self.bit, places))

    def places(self, taken: int) -> frozenset[int]:
        """The set as places in the order given."""
        return frozenset(self.place_of[bit.bit_length() - 1] for bit in bits(taken))

    def sums(self, taken: int) -> tuple[int, int]:
        """What a set costs and what it is worth."""
        inside = [bit.bit_length() - 1 for bit in bits(taken)]
        return sum(self.costs[bit] for bit in inside), sum(self.worths[bit] for bit in inside)

    def _plain(self, free: int, clauses: Iterable[Clause]) -> tuple[int, int]:
        """What comes in, as it costs and asks for nothing; what stays out, as nothing asks for it."""
        bodies = heads = 0
        for body, head in clauses:
            bodies, heads = bodies | body, heads | head
        return free & self.worthy & ~self.costly & ~bodies, free & ~self.worthy & ~heads

    def _reachable(self, clauses: Iterable[Clause]) -> list[Clause]:
        """The rules that can ever be called upon, from what is worth something and from what must be."""
        reach, kept, waiting = self.worthy, list[Clause](), list(clauses)
        while True:
            called = [clause for clause in waiting if not clause[0] & ~reach]
            if not called:
                return kept
            waiting = [clause for clause in waiting if clause[0] & ~reach]
            kept += called
            for _, heads in called:
                reach |= heads


def bits(number: int) -> Iterator[int]:
    """The bits that are set, each as a number of its own, the lowest first."""
    while number:
        lowest = number & -number
        yield lowest
        number ^= lowest


def union(sets: Iterable[int]) -> int:
    """All bits that stand in any of the sets."""
    whole = 0
    for each in sets:
        whole |= each
    return whole


def _still_open(clauses: Iterable[Clause], taken: int, left: int) -> set[Clause] | None:
    """The rules that are not kept yet, without what is decided; None if one is broken."""
    still_open = set()
    for body, heads in clauses:
        if heads & taken or body & left:
            continue
        body, heads = body & ~taken, heads & ~left
        if not body | heads:
            return None
        if not body & heads:
            still_open.add((body, heads))
    return still_open


def _forced(clauses: Iterable[Clause]) -> tuple[int, int]:
    """The only head left of a rule whose body is in; the only one left of a body that must not be."""
    take = leave = 0
    for body, heads in clauses:
        if not body and not heads & (heads - 1):
            take |= heads
        elif not heads and not body & (body - 1):
            leave |= body
    return take, leave


def _knots(free: int, clauses: Iterable[Clause]) -> tuple[Knot, ...]:
    """The parts that nothing ties to one another; what no rule speaks of stands alone."""
    found: list[tuple[int, list[Clause]]] = []
    for clause in clauses:
        members, tied, apart = clause[0] | clause[1], [clause], []
        for knot in found:
            if knot[0] & members:
                members, tied = members | knot[0], [*knot[1], *tied]
            else:
                apart.append(knot)
        found = [*apart, (members, tied)]
    spoken_of = union(members for members, _ in found)
    alone = [Knot(bit, frozenset()) for bit in bits(free & ~spoken_of)]
    return (*alone, *(Knot(members, frozenset(tied)) for members, tied in found))


def _strongest(clauses: Iterable[Clause]) -> list[Clause]:
    """Without rules that another with the same heads and less of a body says already."""
    bodies: dict[int, list[int]] = {}
    for body, heads in clauses:
        bodies.setdefault(heads, []).append(body)
    kept = []
    for heads, all_bodies in bodies.items():
        least: list[int] = []
        for body in sorted(set(all_bodies), key=int.bit_count):
            if not any(other & body == other for other in least):
                least.append(body)
        kept += [(body, heads) for body in least]
    return kept
