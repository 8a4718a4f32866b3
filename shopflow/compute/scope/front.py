"""Every efficient set of work at once: no cheaper set is worth as much, no set for this money is worth more.

A set is told by its key, one whole number: its cost above, what its worth lacks to the most there is below.
So adding work to a set is adding a number to its key, and sorting keys sorts by cost, the worthiest first.
Work that nothing ties together is added group by group; where one operation ties much work together, the
question is asked twice, with it and without it, and the answers are laid together.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

from shopflow.compute.scope.slope import Within
from shopflow.compute.scope.ways import NOTHING, TooTangled, Way, Ways

Keys = npt.NDArray[np.int64]

# So many keys may be sorted on the way; beyond it the solver is asked instead.
MOST_KEYS = 20_000_000
# What laying one more layer costs, however few its keys.
KEYS_PER_LAYER = 2_000
# Keys are signed whole numbers of 64 bits.
MOST_BITS = 62


@dataclass(frozen=True, slots=True)
class Layer:
    """The efficient keys once some groups were added, and what they were made of: layers made earlier."""

    keys: Keys
    under: tuple[int, ...] = ()
    ways: tuple[Way, ...] = (NOTHING,)


class Front:
    """All efficient sets of the work that is free, by rising cost; or only those `within` bounds."""

    def __init__(self, ways: Ways, within: Within | None = None, most_keys: int = MOST_KEYS) -> None:
        self.ways, self.within, self.keys_to_go = ways, within, most_keys
        self.most = sum(ways.ties.worths)
        self.shift = self.most.bit_length()
        self.low = (1 << self.shift) - 1
        if sum(ways.ties.costs).bit_length() + self.shift > MOST_BITS:
            raise TooTangled
        self.layers = [Layer(np.array([self.most], dtype=np.int64))]
        self._grow(0, ways.ties.everything)
        self.keys = self._wanted(self.layers[-1].keys)
        self.costs, self.worths = self._costs(self.keys), self._worths(self.keys)

    def taken(self, number: int) -> frozenset[int]:
        """Of all sets with the cost and worth of this number the one that takes what was given first."""
        key = int(self.keys[number])
        wanted = self._made_of(key)
        best: dict[tuple[int, int], int] = {(0, self.most): 0}
        for layer in sorted(wanted):
            for step in wanted[layer]:
                found = (best[before] | taken for before, taken in self._ways_to(layer, step))
                best[layer, step] = max(found, key=lambda taken: taken & self.ways.ties.worthy)
        return self.ways.ties.places(best[len(self.layers) - 1, key])

    def _grow(self, layer: int, free: int, rest: float = 0.0) -> int:
        """Add all that is free: small groups as they are, large ones with and without their busiest tie.

        `rest` is the most, after its price, that may still be added when all of this is in.
        """
        to_come = rest + self._net(free)
        for group in self.ways.parts(free) if len(self.layers[layer].keys) else ():
            to_come -= self._net(group)
            if self.ways.is_small(group):
                layer = self._add(layer, self.ways.of(group), to_come)
            else:
                layer = self._with_and_without(layer, group, to_come)
        return layer

    def _with_and_without(self, layer: int, group: int, rest: float) -> int:
        fork = self.ways.fork(group)
        without = self._grow(layer, fork.free_without, rest)
        opened = self._add(layer, (fork.taken,), rest + self._net(fork.free_with))
        inside = self._grow(opened, fork.free_with, rest)
        both = np.concatenate([self.layers[without].keys, self.layers[inside].keys])
        return self._lay(Layer(self._efficient(both, rest), (without, inside)))

    def _add(self, layer: int, ways: tuple[Way, ...], rest: float) -> int:
        adds = np.array([self._adds(way) for way in ways], dtype=np.int64)
        keys = (self.layers[layer].keys + adds[:, None]).ravel()
        return self._lay(Layer(self._efficient(keys, rest), (layer,), ways))

    def _adds(self, way: Way) -> int:
        return (way.cost << self.shift) - way.worth

    def _lay(self, layer: Layer) -> int:
        self.keys_to_go -= KEYS_PER_LAYER
        self.layers.append(layer)
        return len(self.layers) - 1

    def _efficient(self, keys: Keys, rest: float) -> Keys:
        self.keys_to_go -= len(keys)
        if self.keys_to_go < 0:
            raise TooTangled
        if self.within:
            net = self._worths(keys) - self.within.slope.price * self._costs(keys)
            keys = keys[(net >= self.within.least(rest)) & (keys < (self.within.limit + 1) << self.shift)]
        keys.sort(kind="stable")  # Runs that are sorted already are only merged.
        keys = keys[_is_less(keys & self.low)]  # Quick, and leaves less to the slower sweep.
        lacking = keys & self.low
        return keys[_is_less(lacking, np.minimum.accumulate(lacking))]

    def _wanted(self, keys: Keys) -> Keys:
        return keys[self._worths(keys) >= self.within.floor] if self.within else keys

    def _net(self, free: int) -> float:
        return self.within.slope.net(free) if self.within else 0.0

    def _costs(self, keys: Keys) -> Keys:
        return keys >> self.shift

    def _worths(self, keys: Keys) -> Keys:
        return self.most - (keys & self.low)

    def _made_of(self, key: int) -> dict[int, set[int]]:
        """Every key of every layer that some best set of this key passes through."""
        wanted: dict[int, set[int]] = {len(self.layers) - 1: {key}}
        for layer in range(len(self.layers) - 1, 0, -1):
            for step in wanted.get(layer, ()):
                for (under, before), _ in self._ways_to(layer, step):
                    wanted.setdefault(under, set()).add(before)
        wanted.pop(0, None)
        return wanted

    def _ways_to(self, layer: int, key: int) -> Iterator[tuple[tuple[int, int], int]]:
        for under in self.layers[layer].under:
            keys = self.layers[under].keys
            for way in self.layers[layer].ways:
                before = key - self._adds(way)
                place = int(np.searchsorted(keys, before))
                if place < len(keys) and int(keys[place]) == before:
                    yield (under, before), way.taken


def _is_less(values: Keys, so_far: Keys | None = None) -> npt.NDArray[np.bool_]:
    """Is each value less than the one before it (or than the least before it)? The first one is."""
    is_less = np.ones(len(values), dtype=bool)
    np.less(values[1:], (values if so_far is None else so_far)[:-1], out=is_less[1:])
    return is_less
