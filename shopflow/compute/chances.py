"""What may turn out otherwise than planned in one run of the shop: hours, rests and stops, thrown by dice."""

from __future__ import annotations

import math
from collections import defaultdict
from collections.abc import Hashable, Mapping, Sequence
from dataclasses import dataclass, field
from typing import TYPE_CHECKING

import numpy as np

from shopflow.compute.errors import ComputeError
from shopflow.compute.guards import number
from shopflow.compute.schedule.problem import MOST_HOURS, JobId, Problem

if TYPE_CHECKING:
    from shopflow.compute.schedule.tables import Tables

TICKS = 1_000_000


@dataclass(frozen=True, slots=True)
class Stop:
    """A job that is ready may be stopped (a part is missing, someone has to decide) before it is begun.

    Parameters: ``odds`` 0 to 1 that it is; ``hours`` by the clock that it then lasts, each as likely as the
    others: what such stops took before, or a table of what is thought possible.

    >>> Stop(0.04, (24, 72, 500)).odds
    0.04
    """

    odds: float
    hours: Sequence[float]

    def __post_init__(self) -> None:
        object.__setattr__(self, "odds", number("odds of a stop", self.odds, at_least=0, at_most=1))
        hours = tuple(number("hours of a stop", one, at_least=0, at_most=MOST_HOURS) for one in self.hours)
        if not hours:
            raise ComputeError("hours of a stop", self.hours, "at least one figure")
        object.__setattr__(self, "hours", hours)


@dataclass(frozen=True, slots=True)
class Chances:
    """How far things may go otherwise.

    Parameters: ``spread`` of the actual hours of a job as a share of its estimated ones (standard deviation
    divided by mean, lognormal, the mean being the estimate), one for all or one per job; ``shared`` 0 to 1,
    how much of that spread an instrument's jobs have in common (one instrument is bad throughout, another
    good); ``rests`` {job: shares}, how long the rest after that job may last as shares of the planned one,
    each as likely as the others; ``stops`` {job: Stop}.
    """

    spread: float | Mapping[JobId, float] = 0.0
    shared: float = 0.5
    rests: Mapping[JobId, Sequence[float]] = field(default_factory=dict)
    stops: Mapping[JobId, Stop] = field(default_factory=dict)

    def __post_init__(self) -> None:
        number("shared", self.shared, at_least=0, at_most=1)
        for shares in {tuple(row) for row in self.rests.values()}:
            if not shares:
                raise ComputeError("shares of a rest", shares, "at least one figure")
            for share in shares:
                number("shares of a rest", share, at_least=0, at_most=100)


class Dice:
    """All that is thrown for the runs of one problem."""

    def __init__(self, problem: Problem, tables: Tables, chances: Chances) -> None:
        place = {job.id: index for index, job in enumerate(problem.jobs)}
        self._tables, self._shared = tables, chances.shared
        self._spreads = np.array([_spread(chances.spread, job.id) for job in problem.jobs])
        self._rests = {
            shares: _arcs_after(tables, jobs) for shares, jobs in _rests_alike(place, chances.rests).items()
        }
        self._stops = _stops_alike(place, chances.stops)

    def hours(self, runs: int, dice: np.random.Generator) -> np.ndarray:
        return drawn_hours(self._tables, self._spreads, self._shared, runs, dice)

    def rests(self, runs: int, dice: np.random.Generator) -> np.ndarray:
        """Rests in ticks, a row per run and a column per arc; one row for all where none has a spread."""
        planned = self._tables.succ_rest
        if not self._rests:
            return planned[None, :]
        drawn = np.repeat(planned[None, :], runs, axis=0)
        for shares, (arcs, of_job, jobs) in self._rests.items():
            which = dice.integers(len(shares), size=(runs, jobs))
            drawn[:, arcs] = np.rint(planned[arcs] * np.array(shares)[which][:, of_job])
        return drawn

    def stops(self, runs: int, dice: np.random.Generator) -> np.ndarray:
        """Stops in ticks, a row per run and a column per job; one row for all where there are none."""
        if not self._stops:
            return np.zeros((1, len(self._spreads)), dtype=np.int64)
        drawn = np.zeros((runs, len(self._spreads)), dtype=np.int64)
        for hours, (jobs, odds) in self._stops.items():
            lasts = np.rint(np.array(hours) * TICKS).astype(np.int64)
            which = dice.integers(len(lasts), size=(runs, len(jobs)))
            drawn[:, jobs] = np.where(dice.random((runs, len(jobs))) < odds, lasts[which], 0)
        return drawn


def drawn_hours(
    tables: Tables, spreads: np.ndarray, shared: float, runs: int, dice: np.random.Generator
) -> np.ndarray:
    """Hours (in ticks) as they might turn out, a row per run: lognormal, alike in a group.

    >>> from shopflow.compute.schedule import Job
    >>> from shopflow.compute.schedule.tables import tables_of
    >>> tables = tables_of(Problem([Job("strip", 3, {"bench": 1})], {"bench": 1}))
    >>> drawn = drawn_hours(tables, np.array([0.0]), 0.5, 2, np.random.default_rng(1))
    >>> bool((drawn == tables.hours).all())  # without spread every run is as estimated
    True
    """
    sigma = np.sqrt(np.log1p(spreads**2))
    drawn = dice.standard_normal((runs, len(tables.hours)))
    drawn *= math.sqrt(1 - shared)
    common = dice.standard_normal((runs, int(tables.group.max()) + 1)) * math.sqrt(shared)
    drawn += np.take(common, tables.group, axis=1)
    drawn *= sigma  # in place all along: these are the largest tables of a forecast
    drawn -= sigma**2 / 2
    np.exp(drawn, out=drawn)
    drawn *= tables.hours
    np.maximum(1, np.rint(drawn, out=drawn), out=drawn)
    return drawn.astype(np.int64)


def _spread(spread: float | Mapping[JobId, float], job: JobId) -> float:
    if isinstance(spread, Mapping) and job not in spread:
        raise ComputeError("spread", job, "a spread for every job")
    given = spread[job] if isinstance(spread, Mapping) else spread
    return number("spread", given, at_least=0, at_most=10)


def _place(field_name: str, place: Mapping[Hashable, int], job: JobId) -> int:
    if job not in place:
        raise ComputeError(field_name, job, "a job of this problem")
    return place[job]


def _rests_alike(
    place: Mapping[Hashable, int], rests: Mapping[JobId, Sequence[float]]
) -> dict[tuple[float, ...], list[int]]:
    """Jobs by the shares that the rest after them may have, so that rests alike are drawn at once."""
    found: dict[tuple[float, ...], list[int]] = defaultdict(list)
    for job, shares in rests.items():
        found[tuple(shares)].append(_place("rests", place, job))
    return found


def _arcs_after(tables: Tables, jobs: Sequence[int]) -> tuple[np.ndarray, np.ndarray, int]:
    """The arcs that leave these jobs, which of them each leaves, and how many they are."""
    arcs = [range(tables.succ_ptr[job], tables.succ_ptr[job + 1]) for job in jobs]
    of_job = np.repeat(np.arange(len(jobs)), [len(one) for one in arcs])
    return np.array([arc for one in arcs for arc in one], dtype=np.int64), of_job, len(jobs)


def _stops_alike(
    place: Mapping[Hashable, int], stops: Mapping[JobId, Stop]
) -> dict[tuple[float, ...], tuple[np.ndarray, np.ndarray]]:
    """Jobs and odds by the hours that their stops may last, so that stops alike are drawn at once."""
    found: dict[tuple[float, ...], list[tuple[int, float]]] = defaultdict(list)
    for job, stop in stops.items():
        if stop.odds:
            found[tuple(stop.hours)].append((_place("stops", place, job), stop.odds))
    return {
        hours: (np.array([job for job, _ in rows]), np.array([odds for _, odds in rows]))
        for hours, rows in found.items()
    }
