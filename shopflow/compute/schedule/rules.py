"""Orders of jobs: the due-date rule of the first plan, and how any set of ranks becomes an order that can be
planned.
"""

from __future__ import annotations

import numpy as np

from shopflow.compute.schedule.compiled import compiled
from shopflow.compute.schedule.decoder import clock_finish
from shopflow.compute.schedule.tables import FAR, TICKS, Floats, Ints, Tables, work_at

FIRST_OF_ALL = -1e9  # rank of work under way: it keeps the hands that are on it
NEVER_DUE = 1e7  # hours: behind everything that somebody waits for


def latest_finishes(tables: Tables) -> Floats:
    """Rank of each job by the due-date rule: the open hour by which it must end for nothing after it to be
    late.

    Shops use it as "who must be out first, counted back from the promise"; in the literature it is the latest
    finish time rule. Jobs behind which nobody waits are ranked by the length of what still follows, longest
    first.
    """
    due = work_at(tables.spell_work, tables.spell_clock, np.minimum(tables.due, FAR // 4)) / TICKS
    ranks = np.where(tables.due < FAR, due, NEVER_DUE)
    count_back(tables, ranks, _open_share(tables))
    return ranks


@compiled
def count_back(tables: Tables, ranks: Floats, open_share: float) -> None:
    """Lower each job's rank to what its followers need, taking a rest by the clock at its share of open
    hours.
    """
    for place in range(len(tables.topo) - 1, -1, -1):
        job = tables.topo[place]
        begin = ranks[job] - tables.hours[job] / TICKS
        for arc in range(tables.pred_ptr[job], tables.pred_ptr[job + 1]):
            rest = tables.pred_rest[arc] / TICKS * open_share
            ranks[tables.pred[arc]] = min(ranks[tables.pred[arc]], begin - rest)


@compiled
def lift(tables: Tables, ranks: Floats, lifted: Floats) -> None:
    """Ranks as they count: work under way first, and nothing before what it waits for."""
    for place in range(len(tables.topo)):
        job = tables.topo[place]
        rank = ranks[job] + FIRST_OF_ALL * tables.under_way[job]
        for arc in range(tables.pred_ptr[job], tables.pred_ptr[job + 1]):
            rank = max(rank, lifted[tables.pred[arc]])
        lifted[job] = rank


def order_by(tables: Tables, ranks: Floats) -> Ints:
    """Jobs by rank, each after all that it waits for; equal ranks in the order in which work can flow."""
    lifted = np.empty(len(ranks))
    lift(tables, ranks, lifted)
    return tables.topo[np.argsort(lifted[tables.topo], kind="stable")]


@compiled
def late_hours(tables: Tables, finish: Ints) -> float:
    """Weighted hours late by the clock."""
    late = 0.0
    for job in range(len(finish)):
        if tables.weight[job] > 0.0:
            over = clock_finish(tables, finish[job]) - tables.due[job]
            if over > 0:
                late += tables.weight[job] * (over / TICKS)
    return late


def _open_share(tables: Tables) -> float:
    """Open hours per hour of the clock, over the table of opening spells."""
    if len(tables.spell_work) < 2:
        return 1.0
    return float(tables.spell_work[-1] / max(1, tables.spell_clock[-1]))
