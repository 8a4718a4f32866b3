"""How sure is the plan? Runs of the shop with hours as they turn out, and the year's count that follows from
them.

The compiler is imported when the first forecast is asked for, not before.
"""

from __future__ import annotations

import math
from collections.abc import Hashable, Mapping, Sequence
from concurrent.futures import ThreadPoolExecutor
from dataclasses import dataclass, field, replace
from types import MappingProxyType
from typing import TYPE_CHECKING

import numpy as np

from shopflow.compute.chances import Chances, Dice, Stop
from shopflow.compute.errors import ComputeError
from shopflow.compute.guards import number, whole
from shopflow.compute.schedule.problem import Job, JobId, Problem
from shopflow.compute.schedule.solution import Solution
from shopflow.compute.schedule.tables import FAR, TICKS

if TYPE_CHECKING:
    from shopflow.compute.schedule.tables import Tables

QUANTILES = (0.1, 0.5, 0.8, 0.9)
BLOCK = 64  # runs that one thread does at a time; the dice are thrown block by block, whoever does it
THREADS = 2
WEEK_HOURS = 168.0

Quantiles = dict[float, float]


@dataclass(frozen=True, slots=True)
class Forecast:
    """When things will be finished, in clock hours from now, over many runs of the shop.

    ``jobs`` and ``groups`` give the finish by quantile; ``on_time`` and ``groups_on_time`` the share of runs
    in which a job, or every job of a group that has a due date, is in time; ``samples`` the finish of each
    group in each run.
    """

    jobs: Mapping[JobId, Quantiles]
    groups: Mapping[Hashable, Quantiles]
    on_time: Mapping[JobId, float]
    groups_on_time: Mapping[Hashable, float]
    samples: Mapping[Hashable, np.ndarray] = field(repr=False)
    mean: Mapping[JobId, float] = field(repr=False)


def simulate(
    problem: Problem,
    spread: float | Mapping[JobId, float],
    replications: int = 1000,
    seed: int = 0,
    *,
    plan: Solution | None = None,
    shared: float = 0.5,
    rests: Mapping[JobId, Sequence[float]] = MappingProxyType({}),
    stops: Mapping[JobId, Stop] = MappingProxyType({}),
    beside: Sequence[Job] = (),
    quantiles: Sequence[float] = QUANTILES,
) -> Forecast:
    """Run the shop many times, each time with other hours, and tell how the finishes fall.

    Parameters: ``spread``, ``shared``, ``rests`` and ``stops`` as in ``Chances``: how far hours and rests may
    go otherwise than planned, and what may stop a job that is ready; ``plan`` that says when things are
    wanted that cannot be when they are promised; ``beside``, jobs that take hands too but are not told of
    (what will be begun meanwhile).
    Urgency is counted back from what is wanted (the due-date rule), not taken from the plan's starts: a shop
    that plans anew each night does not hold to a start that was overtaken. Work is handed out as in
    ``shopflow.compute.schedule.dispatch``: hands never wait for one piece while another is ready.
    Result: a ``Forecast``; the same seed gives the same. Raises ``ComputeError`` for senseless spread or
    counts.

    >>> from shopflow.compute.schedule import Job, Problem
    >>> shop = Problem([Job("strip", 6, {"bench": 1}, due=6.5, group="grand")], {"bench": 1})
    >>> sure = simulate(shop, spread=0.0, replications=10, seed=1)
    >>> sure.groups["grand"][0.9], sure.on_time["strip"]
    (6.0, 1.0)
    """
    whole("replications", replications, at_least=1, at_most=100_000)
    for share in quantiles:
        number("quantiles", share, at_least=0, at_most=1)
    chances = Chances(spread, shared, rests, stops)
    whole_shop = replace(problem, jobs=(*problem.jobs, *beside)) if beside else problem
    finish = _runs(whole_shop, chances, replications, seed, plan)
    return _told(problem, finish[:, : len(problem.jobs)], quantiles)


def _runs(
    problem: Problem, chances: Chances, replications: int, seed: int, plan: Solution | None
) -> np.ndarray:
    """Finishes in clock hours, a row per run."""
    finish = np.zeros((replications, len(problem.jobs)))
    if not problem.jobs:
        return finish
    from shopflow.compute.schedule.dispatch import run_many, shop_for
    from shopflow.compute.schedule.rules import latest_finishes, order_by
    from shopflow.compute.schedule.tables import tables_of

    tables = tables_of(problem)
    as_promised = tables if plan is None else tables._replace(due=_due_as_planned(problem, tables, plan))
    shop = shop_for(tables, order_by(tables, latest_finishes(as_promised)))
    throws = Dice(problem, tables, chances)

    def do_block(first: int) -> None:
        rows = finish[first : first + BLOCK]
        dice = np.random.default_rng([abs(seed), int(seed < 0), first])
        hours = throws.hours(len(rows), dice)
        rests, stops = throws.rests(len(rows), dice), throws.stops(len(rows), dice)
        run_many(tables, shop, hours, rests, stops, rows)

    with ThreadPoolExecutor(max_workers=THREADS) as pool:
        list(pool.map(do_block, range(0, replications, BLOCK)))
    return finish


def _due_as_planned(problem: Problem, tables: Tables, plan: Solution) -> np.ndarray:
    """When each job is wanted: as promised, or when the plan has it, should that be later.

    So work that the plan gives up on does not take hands from what can still be in time. What nobody is
    promised is wanted when the plan has its end; a job that the plan does not know keeps its own day.
    """
    due = tables.due.copy()
    is_end = tables.succ_ptr[1:] == tables.succ_ptr[:-1]
    for place, job in enumerate(problem.jobs):
        finish = plan.finish.get(job.id)
        if finish is None:
            continue
        planned = round(finish * TICKS)
        if due[place] < FAR:
            due[place] = max(due[place], planned)
        elif is_end[place]:
            due[place] = planned
    return due


def _told(problem: Problem, finish: np.ndarray, quantiles: Sequence[float]) -> Forecast:
    by_job = np.ascontiguousarray(finish.T)
    members: dict[Hashable, list[int]] = {}
    for place, job in enumerate(problem.jobs):
        if job.group is not None:
            members.setdefault(job.group, []).append(place)
    samples = {group: by_job[places].max(axis=0) for group, places in members.items()}
    in_time = {
        place: by_job[place] <= job.due for place, job in enumerate(problem.jobs) if job.due is not None
    }
    promised = {
        group: [in_time[place] for place in places if place in in_time] for group, places in members.items()
    }
    return Forecast(
        jobs=_quantiles([job.id for job in problem.jobs], by_job, quantiles),
        groups=_quantiles(list(samples), np.array(list(samples.values())), quantiles),
        on_time={problem.jobs[place].id: float(kept.mean()) for place, kept in in_time.items()},
        groups_on_time={
            group: float(np.all(kept, axis=0).mean()) for group, kept in promised.items() if kept
        },
        samples=samples,
        mean=dict(zip((job.id for job in problem.jobs), by_job.mean(axis=1).tolist(), strict=True)),
    )


def _quantiles(
    names: Sequence[Hashable], rows: np.ndarray, quantiles: Sequence[float]
) -> dict[Hashable, Quantiles]:
    """The quantiles of each row: between two runs in proportion, as numpy does, but with one sort for all."""
    if not len(names):
        return {}
    rows = np.sort(rows, axis=1)
    places = np.array(quantiles) * (rows.shape[1] - 1)
    below = np.floor(places).astype(np.int64)
    above = np.minimum(below + 1, rows.shape[1] - 1)
    columns = rows[:, below] + (rows[:, above] - rows[:, below]) * (places - below)
    return {
        name: dict(zip(quantiles, column, strict=True))
        for name, column in zip(names, columns.tolist(), strict=True)
    }


# ---- the year


@dataclass(frozen=True, slots=True)
class YearOutlook:
    """How many instruments the year will end with: ``share[n]`` is the probability of exactly n."""

    share: tuple[float, ...]
    target: int

    @property
    def odds(self) -> float:
        """Probability that the target is reached."""
        return min(1.0, math.fsum(self.share[self.target :]))

    @property
    def mean(self) -> float:
        """Instruments to be expected."""
        return math.fsum(count * share for count, share in enumerate(self.share))

    def quantile(self, share: float) -> int:
        """The count that is not exceeded with this probability."""
        number("share", share, at_least=0, at_most=1)
        reached = np.cumsum(self.share)
        return int(np.searchsorted(reached, min(share, reached[-1]) - 1e-12))


def year(
    finished: int,
    open_finish_samples: Mapping[Hashable, Sequence[float]] | Sequence[Sequence[float]],
    arrivals: float | Sequence[float],
    target: int,
    *,
    until: float,
    lead_samples: Sequence[float] = (),
) -> YearOutlook:
    """The distribution of the year's count and the odds of its target.

    Parameters: ``finished`` so far; ``open_finish_samples`` a row per instrument on the floor (as in
    ``Forecast.samples``), its finish in clock hours from now in each run; ``arrivals`` instruments a week
    that will come at random, or the hours at which booked ones come; ``target`` for the year; ``until`` clock
    hours to the year's end; ``lead_samples`` past lead times in clock hours, needed when anything is still to
    come. Floor, bookings and chance arrivals are taken as independent of each other; within a run the floor's
    instruments keep what they have in common. Chance arrivals that come out in time are again a Poisson count
    (thinning of a Poisson process, S. M. Ross, Introduction to Probability Models, from memory).
    Raises ``ComputeError`` for negative counts, rows of unequal length or arrivals without lead times.

    >>> outlook = year(40, [[100, 900], [200, 300]], arrivals=0, target=42, until=500)
    >>> outlook.odds, outlook.mean
    (0.5, 41.5)
    """
    whole("finished", finished, at_least=0, at_most=100_000)
    whole("target", target, at_least=0, at_most=100_000)
    number("until", until, at_least=0, unit="hours from now")
    leads = _numbers("lead_samples", lead_samples)
    share = _open_counts(open_finish_samples, until)
    share = np.convolve(share, _arrived_counts(arrivals, leads, until))
    return YearOutlook((0.0,) * finished + tuple((share / share.sum()).tolist()), target)


def _numbers(name: str, given: Sequence[float]) -> np.ndarray:
    return np.array([number(name, one, at_least=0) for one in given])


def _open_counts(
    samples: Mapping[Hashable, Sequence[float]] | Sequence[Sequence[float]], until: float
) -> np.ndarray:
    rows = [
        np.asarray(row, dtype=float)
        for row in (samples.values() if isinstance(samples, Mapping) else samples)
    ]
    if not rows:
        return np.ones(1)
    if len({len(row) for row in rows}) != 1 or not len(rows[0]) or any(np.isnan(row).any() for row in rows):
        raise ComputeError("open_finish_samples", [len(row) for row in rows], "rows of equally many hours")
    counts = (np.array(rows) <= until).sum(axis=0)
    return np.bincount(counts, minlength=len(rows) + 1) / len(counts)


def _arrived_counts(arrivals: float | Sequence[float], leads: np.ndarray, until: float) -> np.ndarray:
    """Distribution of how many that are not on the floor yet will still be finished in time."""
    if isinstance(arrivals, Sequence | np.ndarray):
        booked = _numbers("arrivals", arrivals)
        per_week = 0.0
    else:
        booked = np.zeros(0)
        per_week = float(_numbers("arrivals", [arrivals])[0])
    if (len(booked) or per_week) and not len(leads):
        raise ComputeError("lead_samples", (), "past lead times, since instruments are still to come")
    if per_week:
        return _poisson(per_week / WEEK_HOURS * float(np.maximum(0.0, until - leads).mean()))
    share = np.ones(1)
    for comes in booked:
        in_time = float((comes + leads <= until).mean())
        share = np.convolve(share, [1 - in_time, in_time])
    return share


def _poisson(mean: float) -> np.ndarray:
    """Probabilities of 0, 1, 2 ... of a Poisson count, until what is left out does not matter."""
    if mean == 0:
        return np.ones(1)
    most = int(mean + 12 * math.sqrt(mean) + 30)
    return np.array(
        [math.exp(count * math.log(mean) - mean - math.lgamma(count + 1)) for count in range(most)]
    )
