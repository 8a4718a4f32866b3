"""Search for a better order by cooling: ranks of whole instruments and of single jobs are shifted, the plan
is decoded, and a worse plan is kept now and then, ever more rarely as the search cools.

Simulated annealing: S. Kirkpatrick, C. D. Gelatt, M. P. Vecchi, "Optimization by simulated annealing",
Science 220 (1983). All state lives in arrays, so that a search goes on exactly where the last call left it.
"""

from __future__ import annotations

from typing import NamedTuple

import numpy as np

from shopflow.compute.schedule.compiled import compiled
from shopflow.compute.schedule.decoder import TimeLines, clock_finish, decode, plan_of, room_for
from shopflow.compute.schedule.rules import late_hours, latest_finishes, lift, order_by
from shopflow.compute.schedule.tables import TICKS, Floats, Ints, Tables

# Between plans that are equally late the shorter one is better, between equally short ones the earlier one.
TIE = 1e-3


HOTTEST = 0.01  # of the first plan's energy
COOLED_TO = 1e-3


class Search(NamedTuple):
    """One search: where it stands, what it tries, and the best it has seen."""

    dice: Ints
    tries: Ints  # done so far
    levels: Floats  # energy here, best energy
    ranks: Floats
    order: Ints
    best_order: Ints
    tried_ranks: Floats
    lifted: Floats
    tried_lifted: Floats
    tried_order: Ints
    moved: Ints
    start: Ints
    finish: Ints
    members: Ints
    member_ptr: Ints
    lines: TimeLines
    place: Ints


class Annealing:
    """One search as the solver drives it."""

    PLACED_PER_SECOND = 1.2e6  # jobs, on one ordinary processor of 2024: from it follows how many tries fit

    def __init__(self, tables: Tables, objective: str, *, seed: int, budget: int, heat: float = 1.0) -> None:
        self.budget = budget
        self._tables = tables
        self._by_makespan = objective == "makespan"
        self._search = begin_search(tables, seed=seed, by_makespan=self._by_makespan)
        hottest = heat * (HOTTEST * self._search.levels[0] + 0.5 * tables.hours.mean() / TICKS)
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
        return value_of(self._tables, self._search.best_order, self._by_makespan)

    @property
    def here(self) -> float:
        """Energy of the order at which the search stands."""
        return float(self._search.levels[0])

    def carry_on(self, until: int) -> None:
        """Search on up to so many tries."""
        anneal(self._tables, self._search, until, max(1, self.budget), *self._heat, self._by_makespan)

    def order(self) -> Ints:
        """The order that made the best plan."""
        return self._search.best_order


def value_of(tables: Tables, order: Ints, by_makespan: bool) -> float:
    """Makespan or weighted lateness of an order, in hours of the clock."""
    _, finish = plan_of(tables, order)
    return (
        float(clock_finish(tables, finish.max()) / TICKS)
        if by_makespan
        else float(late_hours(tables, finish))
    )


def begin_search(tables: Tables, *, seed: int, by_makespan: bool) -> Search:
    """A search that stands at the due-date plan."""
    jobs = len(tables.hours)
    ranks = latest_finishes(tables)
    order = order_by(tables, ranks)
    lifted = np.empty(jobs)
    lift(tables, ranks, lifted)
    member_ptr = np.append(0, np.cumsum(np.bincount(tables.group, minlength=1))).astype(np.int64)
    search = Search(
        dice=np.array([_first_state(seed)], dtype=np.uint64),
        tries=np.zeros(1, dtype=np.int64),
        levels=np.zeros(2),
        ranks=ranks,
        order=order,
        best_order=order.copy(),
        tried_ranks=ranks.copy(),
        lifted=lifted,
        tried_lifted=lifted.copy(),
        tried_order=order.copy(),
        moved=np.zeros(jobs, dtype=np.int64),
        start=np.zeros(jobs, dtype=np.int64),
        finish=np.zeros(jobs, dtype=np.int64),
        members=np.argsort(tables.group, kind="stable").astype(np.int64),
        member_ptr=member_ptr,
        lines=room_for(tables),
        place=np.zeros(jobs, dtype=np.int64),
    )
    search.place[tables.topo] = np.arange(jobs)
    decode(tables, order, search.lines, search.start, search.finish)
    search.levels[:] = energy(tables, search.finish, by_makespan)
    return search


def _first_state(seed: int) -> int:
    """A well-stirred, never zero state of the dice for any whole seed (splitmix64)."""
    state = (seed * 0x9E3779B97F4A7C15 + 0x9E3779B97F4A7C15) % 2**64
    state = ((state ^ (state >> 30)) * 0xBF58476D1CE4E5B9) % 2**64
    state = ((state ^ (state >> 27)) * 0x94D049BB133111EB) % 2**64
    return (state ^ (state >> 31)) or 1


@compiled
def roll(dice):
    """A number from 0 up to, not including, 1 (xorshift64*)."""
    state = dice[0]
    state ^= state >> np.uint64(12)
    state ^= state << np.uint64(25)
    state ^= state >> np.uint64(27)
    dice[0] = state
    return float((state * np.uint64(0x2545F4914F6CDD1D)) >> np.uint64(11)) / 9007199254740992.0


@compiled
def energy(tables, finish, by_makespan):
    """What the search makes small, in hours."""
    makespan, total = 0.0, 0.0
    for job in range(len(finish)):
        makespan = max(makespan, finish[job] / TICKS)
        total += finish[job] / TICKS
    if by_makespan:
        return makespan + TIE * total / len(finish)
    return late_hours(tables, finish) + TIE * makespan


@compiled
def anneal(tables, search, until, budget, hottest, coldest, by_makespan):
    """Go on with a search until it has made so many tries of its budget; the heat falls from hottest to
    coldest.
    """
    while search.tries[0] < until:
        heat = hottest * (coldest / hottest) ** (search.tries[0] / budget)
        _shift(tables, search)
        _reorder(tables, search)
        decode(tables, search.tried_order, search.lines, search.start, search.finish)
        tried = energy(tables, search.finish, by_makespan)
        if tried <= search.levels[0] - heat * np.log(1.0 - roll(search.dice)):
            search.levels[0] = tried
            search.ranks[:] = search.tried_ranks
            search.lifted[:] = search.tried_lifted
            search.order[:] = search.tried_order
            if tried < search.levels[1]:
                search.levels[1] = tried
                search.best_order[:] = search.tried_order
        search.tries[0] += 1


@compiled
def _shift(tables, search):
    """Try another rank for one instrument, for two that change places, or for one job."""
    search.tried_ranks[:] = search.ranks
    groups = len(search.member_ptr) - 1
    group = int(roll(search.dice) * groups)
    kind = roll(search.dice)
    if kind < 0.35:
        other = int(roll(search.dice) * groups)
        gap = _last_rank(search, other) - _last_rank(search, group)
        _shift_group(tables, search, group, gap)
        _shift_group(tables, search, other, -gap)
    elif kind < 0.70:
        _shift_group(tables, search, group, _step(search))
    else:
        job = int(roll(search.dice) * len(search.ranks))
        if tables.under_way[job] == 0:
            search.tried_ranks[job] += _step(search)


@compiled
def _step(search):
    """Hours to shift by, either way: mostly a few, sometimes some weeks."""
    size = 2.0 * 200.0 ** roll(search.dice)
    return size if roll(search.dice) < 0.5 else -size


@compiled
def _last_rank(search, group):
    last = -1e300
    for row in range(search.member_ptr[group], search.member_ptr[group + 1]):
        last = max(last, search.ranks[search.members[row]])
    return last


@compiled
def _shift_group(tables, search, group, hours):
    for row in range(search.member_ptr[group], search.member_ptr[group + 1]):
        job = search.members[row]
        if tables.under_way[job] == 0:
            search.tried_ranks[job] += hours


@compiled
def _reorder(tables, search):
    """The order that belongs to the tried ranks: the jobs whose rank moved are taken out and put back in
    their place.
    """
    lift(tables, search.tried_ranks, search.tried_lifted)
    moved = 0
    for row in range(len(tables.topo)):
        job = tables.topo[row]
        if search.tried_lifted[job] != search.lifted[job]:
            _insert(search, job, moved)
            moved += 1
    taken, next_moved = 0, 0
    for row in range(len(search.order)):
        job = search.order[row]
        if search.tried_lifted[job] != search.lifted[job]:
            continue
        while next_moved < moved and _before(search, search.moved[next_moved], job):
            search.tried_order[taken] = search.moved[next_moved]
            next_moved += 1
            taken += 1
        search.tried_order[taken] = job
        taken += 1
    while next_moved < moved:
        search.tried_order[taken] = search.moved[next_moved]
        next_moved += 1
        taken += 1


@compiled
def _insert(search, job, count):
    """Put a job into the sorted row of moved jobs."""
    here = count
    while here > 0 and _before(search, job, search.moved[here - 1]):
        search.moved[here] = search.moved[here - 1]
        here -= 1
    search.moved[here] = job


@compiled
def _before(search, job, other):
    """Whether one job comes before another by the tried ranks, equals in the order in which work can flow."""
    mine, theirs = search.tried_lifted[job], search.tried_lifted[other]
    return mine < theirs or (mine == theirs and search.place[job] < search.place[other])
