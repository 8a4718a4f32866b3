"""Other ranks for a few jobs, and the order that follows from them."""

from __future__ import annotations

from typing import NamedTuple

import numpy as np

from shopflow.compute.schedule.compiled import compiled
from shopflow.compute.schedule.dice import pick, roll
from shopflow.compute.schedule.rules import lift
from shopflow.compute.schedule.tables import Floats, Ints, Tables

LEAST_HOURS, MOST_TIMES = (
    2.0,
    200.0,
)  # a rank is shifted by 2 to 400 hours, small steps as often as large ones


class Ranks(NamedTuple):
    """The ranks that stand and those that are tried, each with the order that belongs to them."""

    ranks: Floats
    lifted: Floats
    order: Ints
    tried_ranks: Floats
    tried_lifted: Floats
    tried_order: Ints
    moved: Ints
    members: Ints
    member_ptr: Ints
    place: Ints  # of each job in the order in which work can flow


def ranks_for(tables: Tables, ranks: Floats, order: Ints) -> Ranks:
    """Start from given ranks and their order."""
    jobs = len(ranks)
    lifted, place = np.empty(jobs), np.empty(jobs, dtype=np.int64)
    lift(tables, ranks, lifted)
    place[tables.topo] = np.arange(jobs)
    return Ranks(
        ranks=ranks.copy(),
        lifted=lifted,
        order=order.copy(),
        tried_ranks=ranks.copy(),
        tried_lifted=lifted.copy(),
        tried_order=order.copy(),
        moved=np.zeros(jobs, dtype=np.int64),
        members=np.argsort(tables.group, kind="stable").astype(np.int64),
        member_ptr=np.append(0, np.cumsum(np.bincount(tables.group))).astype(np.int64),
        place=place,
    )


@compiled
def shift(tables: Tables, state: Ranks, dice: Ints) -> None:
    """Try another rank for one instrument, for two that change places, or for one job."""
    state.tried_ranks[:] = state.ranks
    groups = len(state.member_ptr) - 1
    group = pick(dice, groups)
    kind = roll(dice)
    if kind < 0.35:
        other = pick(dice, groups)
        gap = _last_rank(state, other) - _last_rank(state, group)
        _shift_group(state, group, gap)
        _shift_group(state, other, -gap)
    elif kind < 0.70:
        _shift_group(state, group, _step(dice))
    else:
        state.tried_ranks[pick(dice, len(state.ranks))] += _step(dice)


@compiled
def _step(dice: Ints) -> float:
    """Hours to shift by, either way."""
    size = LEAST_HOURS * MOST_TIMES ** roll(dice)
    return size if roll(dice) < 0.5 else -size


@compiled
def _last_rank(state: Ranks, group: int) -> float:
    last = -np.inf
    for row in range(state.member_ptr[group], state.member_ptr[group + 1]):
        last = max(last, state.ranks[state.members[row]])
    return last


@compiled
def _shift_group(state: Ranks, group: int, hours: float) -> None:
    for row in range(state.member_ptr[group], state.member_ptr[group + 1]):
        state.tried_ranks[state.members[row]] += hours


@compiled
def reorder(tables: Tables, state: Ranks) -> int:
    """Put the jobs whose rank moved into their new places; tells the first place that changed (all: none)."""
    lift(tables, state.tried_ranks, state.tried_lifted)
    lifted, tried, place = state.lifted, state.tried_lifted, state.place
    order, tried_order, moved = state.order, state.tried_order, state.moved
    count = 0
    for job in tables.topo:
        if tried[job] != lifted[job]:
            _insert(moved, count, job, tried, place)
            count += 1
    taken, following = 0, 0
    for job in order:
        if tried[job] == lifted[job]:
            while following < count and _before(moved[following], job, tried, place):
                tried_order[taken] = moved[following]
                following += 1
                taken += 1
            tried_order[taken] = job
            taken += 1
    tried_order[taken:] = moved[following:count]
    changed = 0
    while changed < len(order) and order[changed] == tried_order[changed]:
        changed += 1
    return changed


@compiled
def _insert(moved: Ints, count: int, job: int, ranks: Floats, place: Ints) -> None:
    """Put a job into the sorted row of moved jobs."""
    while count > 0 and _before(job, moved[count - 1], ranks, place):
        moved[count] = moved[count - 1]
        count -= 1
    moved[count] = job


@compiled
def _before(job: int, other: int, ranks: Floats, place: Ints) -> bool:
    """Whether one job comes before another by rank, equals in the order in which work can flow."""
    return ranks[job] < ranks[other] or (ranks[job] == ranks[other] and place[job] < place[other])


@compiled
def keep(state: Ranks) -> None:
    """Let the tried ranks stand."""
    state.ranks[:] = state.tried_ranks
    state.lifted[:] = state.tried_lifted
    state.order[:] = state.tried_order
