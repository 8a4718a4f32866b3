"""The problem as flat tables of whole numbers, the form in which the compiled decoder reads it.

Times are whole ticks of a millionth of an hour, so that "not before" is exact and no rounding creeps in.
Positions on the axis of open hours are called *work*, positions by the clock *clock*.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import NamedTuple

import numpy as np

from shopflow.compute.schedule.hours import ShopHours
from shopflow.compute.schedule.problem import Job, Problem, topological_order

TICKS = 1_000_000
FAR = 2**62

Ints = np.ndarray
Floats = np.ndarray


class Tables(NamedTuple):
    """One problem. ``*_ptr`` arrays say where each job's (or resource's) part of the next arrays begins."""

    hours: Ints
    release: Ints  # work
    due: Ints  # clock, FAR where there is none
    weight: Floats
    group: Ints
    under_way: Ints
    topo: Ints
    pred_ptr: Ints
    pred: Ints
    pred_rest: Ints  # clock
    succ_ptr: Ints
    succ: Ints
    succ_rest: Ints  # clock
    need_ptr: Ints
    need: Ints
    need_hands: Ints
    hands_ptr: Ints
    hands_from: Ints  # work
    hands: Ints
    spell_work: Ints
    spell_clock: Ints
    keep: Ints  # clock: how long each job holds its parts after its end
    holding: Ints
    not_before: Ints  # work: the release, or when a part is given back that somebody has already
    rival_ptr: Ints
    rival: Ints  # jobs that may not overlap with each, because they hold a part in common


def tables_of(problem: Problem) -> Tables:
    """Flatten a problem; jobs and resources keep the order in which the problem names them."""
    jobs = problem.jobs
    place = {job.id: index for index, job in enumerate(jobs)}
    spell_work, spell_clock = _spells(problem.shop_hours, _horizon(problem))
    pred_ptr, pred, rest = _rows(
        [{place[earlier]: _ticks(lag) for earlier, lag in job.after.items()} for job in jobs]
    )
    succ_ptr, succ, succ_rest = _rows(_followers(jobs, place))
    resource = {name: index for index, name in enumerate(problem.resources)}
    need_ptr, need, need_hands = _rows([{resource[name]: h for name, h in job.needs.items()} for job in jobs])
    release = work_at(spell_work, spell_clock, _ints([_ticks(job.release) for job in jobs]))
    tables = Tables(
        hours=_ints([max(1, _ticks(job.hours)) for job in jobs]),
        release=release,
        due=_ints([FAR if job.due is None else _ticks(job.due) for job in jobs]),
        weight=np.array([0.0 if job.due is None else job.weight for job in jobs], dtype=np.float64),
        group=_groups(jobs),
        under_way=_ints([job.under_way for job in jobs]),
        topo=_ints(topological_order(jobs)),
        pred_ptr=pred_ptr,
        pred=pred,
        pred_rest=rest,
        succ_ptr=succ_ptr,
        succ=succ,
        succ_rest=succ_rest,
        need_ptr=need_ptr,
        need=need,
        need_hands=need_hands,
        **_hands(problem, spell_work, spell_clock),
        spell_work=spell_work,
        spell_clock=spell_clock,
        keep=_ints([_ticks(job.keeps_hold) for job in jobs]),
        holding=_ints([job.holding and bool(job.holds) for job in jobs]),
        not_before=release,
        rival_ptr=np.zeros(len(jobs) + 1, dtype=np.int64),
        rival=_ints([]),
    )
    return _with_rivals(jobs, tables) if any(job.holds for job in jobs) else tables


def _with_rivals(jobs: Sequence[Job], tables: Tables) -> Tables:
    """The same tables with who excludes whom; the compiler is wanted only where there is anything to hold."""
    from shopflow.compute.schedule.rivals import rivals

    numbers: dict[object, int] = {}
    holds = [sorted(numbers.setdefault(name, len(numbers)) for name in job.holds) for job in jobs]
    ends = np.cumsum([0, *map(len, holds)], dtype=np.int64)
    return rivals(tables, ends, _ints([number for row in holds for number in row]))


def work_at(spell_work: Ints, spell_clock: Ints, clock: Ints) -> Ints:
    """Open ticks that have passed at each moment of the clock."""
    index = np.maximum(np.searchsorted(spell_clock, clock, side="right") - 1, 0)
    ends = np.append(spell_work, FAR)[index + 1]
    return np.clip(spell_work[index] + clock - spell_clock[index], 0, ends)


def clock_of_start(tables: Tables, work: Ints) -> Ints:
    """When work begins that begins so many open ticks in: at an opening rather than the closing before it."""
    index = np.searchsorted(tables.spell_work, work, side="right") - 1
    return tables.spell_clock[index] + work - tables.spell_work[index]


def clock_of_finish(tables: Tables, work: Ints) -> Ints:
    """When work ends that ends so many open ticks in: in the evening rather than the morning after."""
    index = np.maximum(np.searchsorted(tables.spell_work, work, side="left") - 1, 0)
    return tables.spell_clock[index] + work - tables.spell_work[index]


def _ticks(hours: float) -> int:
    return round(hours * TICKS)


def _ints(values: Sequence[int]) -> Ints:
    return np.array(values, dtype=np.int64).reshape(len(values))


def _rows(rows: Sequence[Mapping[int, int]]) -> tuple[Ints, Ints, Ints]:
    ends = np.cumsum([0, *(len(row) for row in rows)], dtype=np.int64)
    return (
        ends,
        _ints([key for row in rows for key in row]),
        _ints([value for row in rows for value in row.values()]),
    )


def _followers(jobs: Sequence[Job], place: Mapping[object, int]) -> list[dict[int, int]]:
    followers: list[dict[int, int]] = [{} for _ in jobs]
    for index, job in enumerate(jobs):
        for earlier, lag in job.after.items():
            followers[place[earlier]][index] = _ticks(lag)
    return followers


def _groups(jobs: Sequence[Job]) -> Ints:
    """A number per group; a job of no group is a group of its own."""
    numbers: dict[object, int] = {}
    keys = [("alone", index) if job.group is None else ("group", job.group) for index, job in enumerate(jobs)]
    return _ints([numbers.setdefault(key, len(numbers)) for key in keys])


def _hands(problem: Problem, spell_work: Ints, spell_clock: Ints) -> dict[str, Ints]:
    """Hands over open hours. Steps that fall into one closing time meet in one moment: the last of them
    counts.
    """
    rows: list[dict[int, int]] = []
    for steps in map(problem.steps, problem.resources):
        moments = work_at(spell_work, spell_clock, _ints([_ticks(begins) for begins, _ in steps]))
        rows.append(dict(zip(moments.tolist(), (hands for _, hands in steps), strict=True)))
    ends, moments, hands = _rows(rows)
    return {"hands_ptr": ends, "hands_from": moments, "hands": hands}


def _horizon(problem: Problem) -> float:
    """A clock hour, were the shop never closed, by which any sensible plan is over."""
    rests = sum(max(job.after.values(), default=0.0) for job in problem.jobs)
    release = max((job.release for job in problem.jobs), default=0.0)
    last_step = max((problem.steps(name)[-1][0] for name in problem.resources), default=0.0)
    return release + last_step + rests + sum(job.hours for job in problem.jobs)


def _spells(shop_hours: ShopHours | None, horizon: float) -> tuple[Ints, Ints]:
    """Where each opening lies on both axes, until the shop has been open for as long as the horizon."""
    if shop_hours is None:
        return _ints([0]), _ints([0])
    opens, closes = (np.rint(hours * TICKS).astype(np.int64) for hours in shop_hours.table(horizon))
    work = np.concatenate([[0], np.cumsum(closes - opens)[:-1]])
    known = int(np.searchsorted(work, _ticks(horizon), side="right"))
    return work[:known], opens[:known]
