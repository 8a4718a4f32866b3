"""A fast decoder for plain problems: whole units of time, hands that never change, a shop that never closes,
and nothing that a job holds for itself alone.

Same rule as the exact decoder, on a row of time slots. All resources of a slot share one 64-bit word, a lane
each with a guard bit on top, so that one subtraction tells whether a job's hands are idle in that slot.
Forward-backward improvement after V. Valls, F. Ballestín, S. Quintanilla, "Justification and RCPSP: a
technique that pays", European Journal of Operational Research 165 (2005).
"""

from __future__ import annotations

from math import gcd
from typing import NamedTuple

import numpy as np

from shopflow.compute.schedule.compiled import compiled
from shopflow.compute.schedule.tables import Ints, Tables

MOST_SLOTS = 60_000


class Grid(NamedTuple):
    """A plain problem in units of time."""

    unit: int
    hours: Ints
    release: Ints
    none: Ints
    words: Ints
    full: np.uint64
    guards: np.uint64
    pred_ptr: Ints
    pred: Ints
    pred_rest: Ints
    succ_ptr: Ints
    succ: Ints
    succ_rest: Ints
    slots: int


def grid_of(tables: Tables) -> Grid | None:
    """The problem on a grid, or None when it is not plain enough for one."""
    resources = len(tables.hands_ptr) - 1
    plain = (
        len(tables.spell_work) == 1
        and not len(tables.rival)
        and len(tables.hands) == resources
        and not tables.under_way.any()
    )
    if not plain or not 1 <= resources <= 16 or tables.hands.max() >= 2 ** (64 // resources - 1):
        return None
    times = (tables.hours, tables.release, tables.pred_rest)
    unit = gcd(*(int(time) for row in times for time in np.unique(row)))
    slots = (
        sum(int(row.sum() if row is not tables.release else row.max(initial=0)) for row in times) // unit + 2
    )
    if slots > MOST_SLOTS:
        return None
    lane = 64 // resources
    guards = sum(1 << (lane * resource + lane - 1) for resource in range(resources))
    full = guards + sum(int(hands) << (lane * resource) for resource, hands in enumerate(tables.hands))
    return Grid(
        unit=unit,
        hours=tables.hours // unit,
        release=tables.release // unit,
        none=np.zeros_like(tables.release),
        words=_words(tables, lane),
        full=np.uint64(full),
        guards=np.uint64(guards),
        pred_ptr=tables.pred_ptr,
        pred=tables.pred,
        pred_rest=tables.pred_rest // unit,
        succ_ptr=tables.succ_ptr,
        succ=tables.succ,
        succ_rest=tables.succ_rest // unit,
        slots=slots,
    )


def _words(tables: Tables, lane: int) -> Ints:
    words = np.zeros(len(tables.hours), dtype=np.uint64)
    for job in range(len(words)):
        for row in range(tables.need_ptr[job], tables.need_ptr[job + 1]):
            words[job] += np.uint64(int(tables.need_hands[row]) << (lane * int(tables.need[row])))
    return words


@compiled
def fill(
    order: Ints,
    hours: Ints,
    words: Ints,
    ptr: Ints,
    other: Ints,
    rest: Ints,
    release: Ints,
    full: np.uint64,
    guards: np.uint64,
    free: Ints,
    used: int,
    start: Ints,
) -> int:
    """Place jobs in order, each at the first run of slots long enough; tells how many slots are used.

    ``used`` slots of ``free`` were taken by the plan before and are given back first.
    """
    free[:used] = full
    last = 0
    for place in range(len(order)):
        job = order[place]
        slot = release[job]
        for arc in range(ptr[job], ptr[job + 1]):
            slot = max(slot, start[other[arc]] + hours[other[arc]] + rest[arc])
        need, wanted, run = words[job], hours[job], 0
        while run < wanted:
            run = run + 1 if ((free[slot] - need) & guards) == guards else 0
            slot += 1
        start[job] = slot - wanted
        for taken in range(slot - wanted, slot):
            free[taken] -= need
        last = max(last, slot)
    return last


@compiled
def sort_by_start(start: Ints, last: int, heads: Ints, order: Ints) -> None:
    """Jobs by start, counted into slots; among equals the one with the higher number first."""
    jobs = len(start)
    heads[: last + 1] = 0
    for job in range(jobs):
        heads[start[job] + 1] += 1
    for slot in range(last):
        heads[slot + 1] += heads[slot]
    for job in range(jobs):
        order[heads[start[job]]] = job
        heads[start[job]] += 1


@compiled
def justify(grid: Grid, order: Ints, free: Ints, heads: Ints, start: Ints, used: int) -> tuple[int, int]:
    """Push the plan of an order to the right and back to the left until that shortens it no more.

    Leaves the order of the best plan in ``order`` and its starts in ``start``; tells (length, slots used in
    free).
    """
    length = fill(
        order,
        grid.hours,
        grid.words,
        grid.pred_ptr,
        grid.pred,
        grid.pred_rest,
        grid.release,
        grid.full,
        grid.guards,
        free,
        used,
        start,
    )
    used = length
    while True:
        for job in range(len(start)):
            start[job] = length - start[job] - grid.hours[job]
        sort_by_start(start, length, heads, order)
        back = fill(
            order,
            grid.hours,
            grid.words,
            grid.succ_ptr,
            grid.succ,
            grid.succ_rest,
            grid.none,
            grid.full,
            grid.guards,
            free,
            used,
            start,
        )
        for job in range(len(start)):
            start[job] = back - start[job] - grid.hours[job]
        sort_by_start(start, back, heads, order)
        again = fill(
            order,
            grid.hours,
            grid.words,
            grid.pred_ptr,
            grid.pred,
            grid.pred_rest,
            grid.release,
            grid.full,
            grid.guards,
            free,
            back,
            start,
        )
        used = again
        if again >= length:
            break
        length = again
    sort_by_start(start, again, heads, order)
    return again, used
