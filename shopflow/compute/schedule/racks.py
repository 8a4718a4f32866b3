"""Racks of one run of the shop: which jobs are ready, found by urgency at once.

The jobs that need the same hands wait on one rack. Every job has its own place there, the most urgent first,
and a bit tells whether it lies there: 64 places share a word, so the first one is found by looking at a few
words.
"""

from __future__ import annotations

from collections.abc import Sequence
from itertools import pairwise
from typing import Any, NamedTuple

import numpy as np
from numba import types
from numba.extending import intrinsic

from shopflow.compute.schedule.compiled import inlined
from shopflow.compute.schedule.tables import Ints, Tables

WORD = 64


class Racks(NamedTuple):
    """The racks of a shop, and the clusters of racks that share hands; ``urgency`` 0 goes first.

    Small unsigned numbers throughout: half the memory, and no question whether an index is negative.
    """

    rack_of: Ints
    place: Ints
    job_at: Ints  # by place
    urgency: Ints
    word_ptr: Ints
    need_ptr: Ints
    need: Ints
    need_hands: Ints
    may_pause: Ints  # 1 where hands are at times fewer than the work needs
    cluster_of: Ints
    cluster_ptr: Ints
    cluster: Ints
    cluster_of_resource: Ints


def racks_for(tables: Tables, order: Ints) -> Racks:
    """One rack per kind of need, its places given out in an order of urgency."""
    needs, rack_of = _kinds_of_need(tables)
    counts = np.bincount(rack_of, minlength=len(needs))
    word_ptr = np.concatenate([[0], np.cumsum(-(-counts // WORD))])
    by_rack = order[np.argsort(rack_of[order], kind="stable")]
    within = np.arange(len(order)) - np.repeat(np.cumsum(counts) - counts, counts)
    place, urgency = np.empty(len(order), np.uint32), np.empty(len(order), np.uint32)
    place[by_rack] = word_ptr[rack_of[by_rack]] * WORD + within
    urgency[order] = np.arange(len(order))
    job_at = np.zeros(word_ptr[-1] * WORD, np.uint32)
    job_at[place] = np.arange(len(order))
    cluster_of, cluster_of_resource = _clusters(needs, len(tables.hands_ptr) - 1)
    sizes = np.bincount(cluster_of, minlength=len(tables.hands_ptr))  # a resource that nobody needs has none
    return Racks(
        rack_of=_small(rack_of),
        place=place,
        job_at=job_at,
        urgency=urgency,
        word_ptr=_small(word_ptr),
        need_ptr=_small(np.cumsum([0, *map(len, needs)])),
        need=_small([resource for kind in needs for resource, _ in kind]),
        need_hands=_small([hands for kind in needs for _, hands in kind]),
        may_pause=_small([_pauses(tables, kind) for kind in needs]),
        cluster_of=_small(cluster_of),
        cluster_ptr=_small(np.concatenate([[0], np.cumsum(sizes)])),
        cluster=_small(np.argsort(cluster_of, kind="stable")),
        cluster_of_resource=_small(cluster_of_resource),
    )


Need = tuple[tuple[int, int], ...]


def _small(values: object) -> Ints:
    return np.array(values, dtype=np.uint32).reshape(-1)


def _kinds_of_need(tables: Tables) -> tuple[list[Need], Ints]:
    """Every distinct need, and which of them each job has."""
    ends, need, hands = tables.need_ptr.tolist(), tables.need.tolist(), tables.need_hands.tolist()
    numbers: dict[Need, int] = {}
    rack_of = [
        numbers.setdefault(tuple(zip(need[begin:end], hands[begin:end], strict=True)), len(numbers))
        for begin, end in pairwise(ends)
    ]
    return list(numbers), np.array(rack_of, dtype=np.int64)


def _clusters(needs: list[Need], resources: int) -> tuple[list[int], list[int]]:
    """Racks that share hands, directly or by way of another, are a cluster: (of each rack, of each resource).

    Which cluster is served first does not matter, for none takes hands from another.
    """
    of_resource = list(range(resources))
    for kind in needs:
        touched = {of_resource[resource] for resource, _ in kind}
        of_resource = [min(touched) if one in touched else one for one in of_resource]
    of_rack = [of_resource[kind[0][0]] if kind else resources for kind in needs]
    numbers = {one: number for number, one in enumerate(sorted({*of_resource, *of_rack}))}
    return [numbers[one] for one in of_rack], [numbers[one] for one in of_resource]


def _pauses(tables: Tables, kind: Need) -> bool:
    return any(
        (tables.hands[tables.hands_ptr[resource] : tables.hands_ptr[resource + 1]] < hands).any()
        for resource, hands in kind
    )


@intrinsic
def _zeros_below(typing: object, word: types.Type) -> tuple:
    """How many bits below the lowest set one of a word are clear: one instruction of the processor."""

    def build(context: Any, builder: Any, signature: object, values: Sequence[object]) -> object:
        return builder.cttz(values[0], context.get_constant(types.boolean, True))

    return types.uint64(types.uint64), build


@inlined
def lay(words: Ints, lowest: Ints, rack: int, place: int) -> None:
    """Lay the job of a place on its rack."""
    word = place >> np.uint32(6)
    words[word] |= np.uint64(1) << np.uint64(place & np.uint32(63))
    lowest[rack] = min(lowest[rack], word)


@inlined
def first_place(words: Ints, lowest: Ints, rack: int) -> int:
    """The most urgent place of a rack on which something lies."""
    word = lowest[rack]
    while words[word] == 0:
        word += np.uint32(1)
    lowest[rack] = word
    return word * np.uint32(64) + np.uint32(_zeros_below(words[word]))  # type: ignore[call-arg]  # the compiler's


@inlined
def take_away(words: Ints, place: int) -> None:
    """Take the job of any place off its rack."""
    words[place >> np.uint32(6)] &= ~(np.uint64(1) << np.uint64(place & np.uint32(63)))


@inlined
def lift(words: Ints, place: int) -> None:
    """Take the job of a place off its rack; it is the first one there."""
    word = place >> np.uint32(6)
    words[word] &= words[word] - np.uint64(1)
