"""When each job can and must be done if hands were never short, and what has time to spare."""

from __future__ import annotations

from collections.abc import Hashable, Iterable, Iterator, Mapping
from dataclasses import dataclass

from shopflow.compute.errors import ComputeError
from shopflow.compute.guards import number
from shopflow.compute.network.links import MOST, GivenLink, Link, read_links, sorted_jobs

Job = Hashable


@dataclass(frozen=True, slots=True)
class JobTimes:
    """When a job can and must start and finish, and how much time it has to spare, in the durations' unit."""

    early_start: float
    early_finish: float
    late_start: float
    late_finish: float
    total_float: float
    free_float: float


@dataclass(frozen=True, slots=True)
class CriticalPath(Mapping[Job, JobTimes]):
    """The times of every job by its name, the length of the whole, and the jobs that may not slip."""

    times: dict[Job, JobTimes]
    length: float
    critical: tuple[Job, ...]

    def __getitem__(self, job: Job) -> JobTimes:
        return self.times[job]

    def __iter__(self) -> Iterator[Job]:
        return iter(self.times)

    def __len__(self) -> int:
        return len(self.times)


def critical_path(durations: Mapping[Job, float], after: Iterable[GivenLink[Job]]) -> CriticalPath:
    """Work out when each job can and must be done if hands were never short, and which jobs may not slip.

    Parameters: `durations`, time per job, 0 or more, all in one unit such as hours; `after`, triples
    (pred, succ, lag): succ starts at least `lag` (0 or more, same unit; none: 0) after pred is finished.
    Result: CriticalPath, a mapping from job to JobTimes in that unit, jobs in the order of `durations`.
    Total float: how far a job can slip before the end does. Free float: before any other job does.
    Errors: ComputeError for impossible times, unknown jobs, and work that waits for itself (the circle is
    named).
    Source: critical path method, J. E. Kelley and M. R. Walker, "Critical-Path Planning and Scheduling", 1959
    (from memory).

    >>> path = critical_path({"strip": 3, "mend": 2, "plate": 4, "fit": 1},
    ...                      [("strip", "mend", 0), ("mend", "fit", 0), ("plate", "fit", 0)])
    >>> path.length, path.critical, path["plate"].total_float
    (6.0, ('strip', 'mend', 'fit'), 1.0)
    """
    times = _durations(durations)
    links = read_links(after, known=times)
    in_order = sorted_jobs(times, links)
    starts = _early_starts(in_order, times, links)
    length = max((starts[job] + times[job] for job in times), default=0.0)
    finishes = _late_finishes(in_order, times, links, length)
    slack = _free_floats(times, links, starts, length)
    found = {job: _job_times(starts[job], finishes[job], times[job], slack[job], length) for job in times}
    critical = tuple(job for job in in_order if found[job].total_float == 0)
    return CriticalPath(found, length, critical)


def _durations(given: Mapping[Job, float]) -> dict[Job, float]:
    if not isinstance(given, Mapping):
        raise ComputeError("durations", given, "a duration for each job")
    return {job: number("durations", time, at_least=0, at_most=MOST) for job, time in given.items()}


def _early_starts(
    in_order: list[Job], times: Mapping[Job, float], links: list[Link[Job]]
) -> dict[Job, float]:
    before_of = _grouped(links, by_later=True)
    starts: dict[Job, float] = {}
    for job in in_order:
        waits = (starts[before] + times[before] + lag for before, lag in before_of.get(job, ()))
        starts[job] = max(waits, default=0.0)
    return starts


def _late_finishes(
    in_order: list[Job], times: Mapping[Job, float], links: list[Link[Job]], length: float
) -> dict[Job, float]:
    then_of = _grouped(links, by_later=False)
    finishes: dict[Job, float] = {}
    for job in reversed(in_order):
        needed = (finishes[then] - times[then] - lag for then, lag in then_of.get(job, ()))
        finishes[job] = min(needed, default=length)
    return finishes


def _free_floats(
    times: Mapping[Job, float], links: list[Link[Job]], starts: Mapping[Job, float], length: float
) -> dict[Job, float]:
    then_of = _grouped(links, by_later=False)
    return {
        job: min((starts[then] - lag for then, lag in then_of.get(job, ())), default=length)
        - starts[job]
        - time
        for job, time in times.items()
    }


def _grouped(links: list[Link[Job]], *, by_later: bool) -> dict[Job, list[tuple[Job, float]]]:
    found: dict[Job, list[tuple[Job, float]]] = {}
    for before, then, lag in links:
        job, other = (then, before) if by_later else (before, then)
        found.setdefault(job, []).append((other, lag))
    return found


def _job_times(start: float, finish: float, time: float, free: float, length: float) -> JobTimes:
    """Bring a job's times together; a float that is only rounding counts as none."""
    crumb = 1e-9 * max(1.0, length)
    total = finish - time - start
    if total <= crumb:
        return JobTimes(start, start + time, start, start + time, 0.0, 0.0)
    free = 0.0 if free <= crumb else min(free, total)
    return JobTimes(start, start + time, finish - time, finish, total, free)
