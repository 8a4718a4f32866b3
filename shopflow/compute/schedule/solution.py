"""A plan, and the questions it answers about itself."""

from __future__ import annotations

import math
from collections.abc import Iterator, Mapping
from dataclasses import dataclass, field
from itertools import pairwise

from shopflow.compute.errors import ComputeError
from shopflow.compute.schedule.problem import Job, JobId, Problem

SLACK = 1e-5  # hours: times are kept to a millionth of an hour, and a job may cross many spells


@dataclass(frozen=True, slots=True)
class Solution:
    """When each job begins and ends, in clock hours from the moment the plan begins.

    ``complete`` is True when the search spent its whole budget of tries: then the same seed gives the same
    plan on any machine. It is False when the time ran out first or the caller stopped it.
    """

    problem: Problem
    start: Mapping[JobId, float]
    finish: Mapping[JobId, float]
    objective: str
    lower_bound: float
    iterations: int = 0
    complete: bool = True
    _by_id: Mapping[JobId, Job] = field(init=False, repr=False, compare=False)

    def __post_init__(self) -> None:
        object.__setattr__(self, "_by_id", {job.id: job for job in self.problem.jobs})

    @property
    def makespan(self) -> float:
        """The hour by which everything is done."""
        return max(self.finish.values(), default=0.0)

    @property
    def tardiness(self) -> float:
        """Hours late by the clock, times weight, over all jobs that have a due date."""
        return math.fsum(job.weight * self.lateness(job.id) for job in self.problem.jobs)

    @property
    def value(self) -> float:
        """What was made small: the makespan or the tardiness, in hours."""
        return self.makespan if self.objective == "makespan" else self.tardiness

    @property
    def gap(self) -> float:
        """How far the plan may at most be from the best one, as a share of its value; 0 is proved best."""
        return 0.0 if self.value <= 0 else max(0.0, (self.value - self.lower_bound) / self.value)

    def lateness(self, job: JobId) -> float:
        """Hours by which a job is late; 0 when it is in time or has no due date."""
        due = self._by_id[job].due
        return 0.0 if due is None else max(0.0, self.finish[job] - due)

    def working(self, job: JobId) -> list[tuple[float, float]]:
        """The spells (from, to) in which a job is worked on: open hours in which its hands are there."""
        spells = _open(self.problem, self.start[job], self.finish[job])
        for resource, hands in self._by_id[job].needs.items():
            spells = [part for spell in spells for part in _attended(self.problem, resource, hands, spell)]
        return spells

    def load(self, resource: str) -> list[tuple[float, float, int]]:
        """Hands at work over time as (from, to, hands), in order, without the idle stretches."""
        if resource not in self.problem.resources:
            raise ComputeError("resource", resource, f"one of {', '.join(map(repr, self.problem.resources))}")
        changes: dict[float, int] = {}
        for job in self.problem.jobs:
            hands = job.needs.get(resource, 0)
            for begins, ends in self.working(job.id) if hands else ():
                changes[begins] = changes.get(begins, 0) + hands
                changes[ends] = changes.get(ends, 0) - hands
        return list(_levels(changes))

    def violations(self) -> list[str]:
        """Every rule that the plan breaks, in words; an empty list when it can be worked as it stands."""
        from shopflow.compute.schedule.checks import broken_rules

        return list(broken_rules(self))


def _open(problem: Problem, start: float, finish: float) -> list[tuple[float, float]]:
    if problem.shop_hours is None:
        return [(start, finish)]
    return list(problem.shop_hours.open_between(start, finish))


def _attended(
    problem: Problem, resource: str, hands: int, spell: tuple[float, float]
) -> Iterator[tuple[float, float]]:
    """The parts of a spell in which enough hands are in the shop for one job, whoever else needs them."""
    steps = problem.steps(resource)
    for index, (begins, there) in enumerate(steps):
        ends = steps[index + 1][0] if index + 1 < len(steps) else math.inf
        opens, closes = max(begins, spell[0]), min(ends, spell[1])
        if there >= hands and opens < closes:
            yield opens, closes


def _levels(changes: Mapping[float, int]) -> Iterator[tuple[float, float, int]]:
    moments = sorted(changes)
    hands = 0
    for now, then in pairwise(moments):
        hands += changes[now]
        if hands:
            yield now, then, hands
