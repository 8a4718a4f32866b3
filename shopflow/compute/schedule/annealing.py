"""Search for a better order by cooling: ranks of whole instruments and of single jobs are shifted, the plan
is made again, and a worse plan is kept now and then, ever more rarely as the search cools.

Simulated annealing: S. Kirkpatrick, C. D. Gelatt, M. P. Vecchi, "Optimization by simulated annealing",
Science 220 (1983). All state lives in arrays, so that a search goes on exactly where the last call left it.
"""

from __future__ import annotations

from typing import NamedTuple

import numpy as np

from shopflow.compute.schedule.compiled import compiled
from shopflow.compute.schedule.decoder import clock_finish, plan_of
from shopflow.compute.schedule.dice import dice_for, pick, roll
from shopflow.compute.schedule.moves import Ranks, keep, ranks_for, reorder, shift
from shopflow.compute.schedule.rules import late_hours, latest_finishes, order_by
from shopflow.compute.schedule.tables import TICKS, Floats, Ints, Tables
from shopflow.compute.schedule.trail import Trail, accept, replay, trail_for

HOTTEST = 0.001  # of the first plan's energy
COOLED_TO = 0.03
PLACES = 8  # sets of ranks that are worked on in turn
TURNS = 80  # turns in all, before the best set alone is worked on
TOGETHER = 0.7  # share of the budget until then
CROSSED = 0.7  # share of turns that begin by taking over the ranks of some instruments from another set


class Search(NamedTuple):
    """Where one search stands, and the best order it has seen."""

    dice: Ints
    tries: Ints
    levels: Floats  # energy here, best energy
    best_order: Ints
    state: Ranks
    trail: Trail
    sets: Floats
    set_levels: Floats
    turn: Ints


class Annealing:
    """One search as the solver drives it."""

    PLACED_PER_SECOND = 1e7  # jobs, on one ordinary processor of 2024: from it follows how many tries fit

    def __init__(self, tables: Tables, objective: str, *, seed: int, budget: int, heat: float = 1.0) -> None:
        self.budget = budget
        self._tables = tables
        self._by_makespan = objective == "makespan"
        self._search = begin_search(tables, seed=seed, by_makespan=self._by_makespan)
        hottest = heat * (HOTTEST * self.here + 0.5 * tables.hours.mean() / TICKS)
        self._heat = hottest, hottest * COOLED_TO

    @classmethod
    def budget_for(cls, tables: Tables, seconds: float) -> int:
        """Tries that fit into the seconds with some room to spare."""
        return 1 + int(seconds * cls.PLACED_PER_SECOND / (len(tables.hours) + 20))

    @property
    def tries(self) -> int:
        """How many orders were tried."""
        return int(self._search.tries[0])

    @property
    def best(self) -> float:
        """Hours of the best plan seen."""
        _, finish = plan_of(self._tables, self._search.best_order)
        if self._by_makespan:
            return float(clock_finish(self._tables, finish.max()) / TICKS)
        return float(late_hours(self._tables, finish))

    @property
    def here(self) -> float:
        """Energy of the order at which the search stands."""
        return float(self._search.levels[0])

    def standing_order(self) -> Ints:
        """The order at which the search stands."""
        return self._search.state.order

    def carry_on(self, until: int) -> None:
        """Search on up to so many tries."""
        anneal(self._tables, self._search, until, max(1, self.budget), *self._heat, self._by_makespan)

    def order(self) -> Ints:
        """The order that made the best plan."""
        return self._search.best_order


def begin_search(tables: Tables, *, seed: int, by_makespan: bool) -> Search:
    """A search that stands at the due-date plan."""
    ranks = latest_finishes(tables)
    order = order_by(tables, ranks)
    trail = trail_for(tables, by_makespan)
    energy = replay(tables, trail, order, 0, np.inf, by_makespan)
    accept(trail, 0)
    return Search(
        dice=dice_for(seed),
        tries=np.zeros(1, dtype=np.int64),
        levels=np.full(2, energy),
        best_order=order.copy(),
        state=ranks_for(tables, ranks, order),
        trail=trail,
        sets=np.tile(ranks, (PLACES, 1)),
        set_levels=np.full(PLACES, np.inf),
        turn=np.zeros(1, dtype=np.int64),
    )


@compiled
def anneal(
    tables: Tables, search: Search, until: int, budget: int, hottest: float, coldest: float, by_makespan: bool
) -> None:
    """Go on until so many tries of the budget are made; the heat falls from hottest to coldest."""
    state = search.state
    turn_length = max(1, int(TOGETHER * budget / TURNS))
    while search.tries[0] < until:
        if search.turn[0] < TURNS and search.tries[0] >= (search.turn[0] + 1) * turn_length:
            _next_turn(tables, search, by_makespan)
        heat = hottest * (coldest / hottest) ** (search.tries[0] / budget)
        limit = search.levels[0] - heat * np.log(1.0 - roll(search.dice))
        search.tries[0] += 1
        shift(tables, state, search.dice)
        changed = reorder(tables, state)
        if changed == len(state.order):
            keep(state)
            continue
        energy = replay(tables, search.trail, state.tried_order, changed, limit, by_makespan)
        if energy <= limit:
            accept(search.trail, changed)
            keep(state)
            search.levels[0] = energy
            if energy < search.levels[1]:
                search.levels[1] = energy
                search.best_order[:] = state.order


@compiled
def _next_turn(tables: Tables, search: Search, by_makespan: bool) -> None:
    """Put the ranks back into their place if they are better, and take up those of the next place."""
    here = search.turn[0] % PLACES
    if search.levels[0] < search.set_levels[here]:
        search.set_levels[here] = search.levels[0]
        search.sets[here] = search.state.ranks
    search.turn[0] += 1
    there = search.turn[0] % PLACES
    if search.turn[0] == TURNS:
        there = np.argmin(search.set_levels)
    search.state.tried_ranks[:] = search.sets[there]
    if PLACES <= search.turn[0] < TURNS and roll(search.dice) < CROSSED:
        _take_over(tables, search, pick(search.dice, PLACES))
    changed = reorder(tables, search.state)
    if changed < len(search.state.order):
        search.levels[0] = replay(
            tables, search.trail, search.state.tried_order, changed, np.inf, by_makespan
        )
        accept(search.trail, changed)
    keep(search.state)


@compiled
def _take_over(tables: Tables, search: Search, other: int) -> None:
    """Take some instruments' ranks from another set; which share of them is chance as well."""
    share = 0.5 * roll(search.dice)
    for group in range(len(search.state.member_ptr) - 1):
        if roll(search.dice) < share:
            for row in range(search.state.member_ptr[group], search.state.member_ptr[group + 1]):
                job = search.state.members[row]
                search.state.tried_ranks[job] = search.sets[other, job]
