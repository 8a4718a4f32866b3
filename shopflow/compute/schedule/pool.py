"""Search for the shortest plan of a plain problem: a pool of orders that are shaken, crossed and pushed
together.

Each try takes one order of the pool, mostly crosses it with a good one (two cuts, S. Hartmann, "A competitive
genetic algorithm for resource-constrained project scheduling", Naval Research Logistics 45 (1998)), shakes a
stretch of it, justifies the plan (see ``grid``) and puts it in the place of the order it came from if it is
no longer than that. Shaking alone stalls early; the pool is what keeps the search going.
"""

from __future__ import annotations

from typing import NamedTuple

import numpy as np

from shopflow.compute.schedule.compiled import compiled
from shopflow.compute.schedule.dice import dice_for, pick, roll
from shopflow.compute.schedule.grid import Grid, justify
from shopflow.compute.schedule.rules import latest_finishes, order_by
from shopflow.compute.schedule.tables import TICKS, Floats, Ints, Tables

POOL = 20
CROSSED = 0.5  # share of tries that cross two orders
SHAKEN = 0.15  # longest stretch that is shaken, as a share of all jobs
REACH = 40.0  # places by which a shaken job moves at most
PATIENCE = 200  # tries per job without any order of the pool becoming shorter, before the pool is filled anew


class Pool(NamedTuple):
    """Where one search stands."""

    dice: Ints
    tries: Ints
    improved: Ints  # the try at which an order of the pool became shorter
    first: Ints
    best: Ints
    best_length: Ints
    orders: Ints
    lengths: Ints
    child: Ints
    tried: Ints
    taken: Ints
    keys: Floats
    free: Ints
    used: Ints
    heads: Ints
    start: Ints


class PoolSearch:
    """One search as the solver drives it."""

    TRIED_PER_SECOND = 4e6  # jobs, on one ordinary processor of 2024

    def __init__(self, tables: Tables, grid: Grid, *, seed: int, budget: int) -> None:
        self.budget = budget
        self._grid = grid
        self._pool = _empty_pool(grid, seed, order_by(tables, latest_finishes(tables)))
        fill_pool(grid, self._pool)

    @classmethod
    def budget_for(cls, tables: Tables, seconds: float) -> int:
        """Tries that fit into the seconds with some room to spare."""
        return 1 + int(seconds * cls.TRIED_PER_SECOND / (len(tables.hours) + 20))

    @property
    def tries(self) -> int:
        """How many orders were tried."""
        return int(self._pool.tries[0])

    @property
    def best(self) -> float:
        """Hours of the shortest plan seen."""
        return int(self._pool.best_length[0]) * self._grid.unit / TICKS

    def carry_on(self, until: int) -> None:
        """Search on up to so many tries."""
        breed(self._grid, self._pool, until)

    def order(self) -> Ints:
        """The order of the shortest plan."""
        return self._pool.best


def _empty_pool(grid: Grid, seed: int, first: Ints) -> Pool:
    jobs = len(grid.hours)
    return Pool(
        dice=dice_for(seed),
        tries=np.zeros(1, dtype=np.int64),
        improved=np.zeros(1, dtype=np.int64),
        first=first,
        best=first.copy(),
        best_length=np.full(1, grid.slots, dtype=np.int64),
        orders=np.zeros((POOL, jobs), dtype=np.int64),
        lengths=np.zeros(POOL, dtype=np.int64),
        child=np.zeros(jobs, dtype=np.int64),
        tried=np.zeros(jobs, dtype=np.int64),
        taken=np.zeros(jobs, dtype=np.int64),
        keys=np.zeros(jobs),
        free=np.full(grid.slots, grid.full, dtype=np.uint64),
        used=np.zeros(1, dtype=np.int64),
        heads=np.zeros(grid.slots + 1, dtype=np.int64),
        start=np.zeros(jobs, dtype=np.int64),
    )


@compiled
def fill_pool(grid: Grid, pool: Pool) -> None:
    """Fill the pool with the due-date order and others shaken from it all over."""
    jobs = len(pool.first)
    pool.improved[0] = pool.tries[0]
    for place in range(len(pool.lengths)):
        pool.lengths[place] = grid.slots
        pool.child[:] = pool.first
        _shake(grid, pool, 0, jobs if place else 0, 0.3 * jobs)
        _keep(grid, pool, place)


@compiled
def breed(grid: Grid, pool: Pool, until: int) -> None:
    """Go on with a search until it has made so many tries."""
    jobs = pool.orders.shape[1]
    while pool.tries[0] < until:
        if pool.tries[0] - pool.improved[0] > PATIENCE * jobs:
            fill_pool(grid, pool)
        place = pick(pool.dice, len(pool.lengths))
        crossed = roll(pool.dice) < CROSSED
        if crossed:
            _cross(pool, pool.orders[place], pool.orders[_good_one(pool)])
        else:
            pool.child[:] = pool.orders[place]
        shaken = 0
        if not crossed or roll(pool.dice) < 0.5:
            shaken = 2 + int(roll(pool.dice) * SHAKEN * jobs)
        _shake(grid, pool, pick(pool.dice, jobs), shaken, 1.0 + REACH * roll(pool.dice))
        _keep(grid, pool, place)
        pool.tries[0] += 1


@compiled
def _good_one(pool: Pool) -> int:
    """The shorter of two orders of the pool."""
    one, other = pick(pool.dice, len(pool.lengths)), pick(pool.dice, len(pool.lengths))
    return other if pool.lengths[other] < pool.lengths[one] else one


@compiled
def _cross(pool: Pool, mother: Ints, father: Ints) -> None:
    """The mother's order, but between two cuts the jobs come as in the father's."""
    jobs = len(mother)
    cut = pick(pool.dice, jobs)
    end = min(jobs, cut + 1 + pick(pool.dice, (jobs + 1) // 2))
    pool.taken[:] = 0
    filled = _append(pool, mother, 0, cut)
    filled = _append(pool, father, filled, end)
    _append(pool, mother, filled, jobs)


@compiled
def _append(pool: Pool, order: Ints, filled: int, until: int) -> int:
    """Fill the child up to a place with the jobs of an order that it lacks."""
    for job in order:
        if filled >= until:
            break
        if pool.taken[job] == 0:
            pool.taken[job] = 1
            pool.child[filled] = job
            filled += 1
    return filled


@compiled
def _shake(grid: Grid, pool: Pool, begin: int, count: int, reach: float) -> None:
    """Move the jobs of a stretch of the child up or down, each still after those it waits for."""
    for place in range(len(pool.child)):
        job = pool.child[place]
        key = float(place)
        if begin <= place < begin + count:
            key += (2.0 * roll(pool.dice) - 1.0) * reach
        for arc in range(grid.pred_ptr[job], grid.pred_ptr[job + 1]):
            key = max(key, pool.keys[grid.pred[arc]])
        pool.keys[job] = key
        while place > 0 and pool.keys[pool.tried[place - 1]] > key:
            pool.tried[place] = pool.tried[place - 1]
            place -= 1
        pool.tried[place] = job


@compiled
def _keep(grid: Grid, pool: Pool, place: int) -> None:
    """Justify the tried order and keep it in a place of the pool, unless it is longer than what is there."""
    length, pool.used[0] = justify(grid, pool.tried, pool.free, pool.heads, pool.start, pool.used[0])
    if length > pool.lengths[place]:
        return
    if length < pool.lengths[place]:
        pool.improved[0] = pool.tries[0]
    pool.lengths[place] = length
    pool.orders[place] = pool.tried
    if length < pool.best_length[0]:
        pool.best_length[0] = length
        pool.best[:] = pool.tried
