"""What waits for what: links between jobs, an order that keeps them, and circles named."""

from __future__ import annotations

from collections.abc import Hashable, Iterable, Mapping
from heapq import heapify, heappop, heappush
from typing import Any, TypeVar

from shopflow.compute.errors import ComputeError
from shopflow.compute.guards import number, some

Job = TypeVar("Job", bound=Hashable)
Link = tuple[Job, Job, float]
GivenLink = tuple[Job, Job] | tuple[Job, Job, float]

MOST = 1e9


def order(after: Iterable[GivenLink[Job]], jobs: Iterable[Job] = ()) -> list[Job]:
    """Put jobs in an order in which none comes before what it waits for.

    The order is stable: jobs that could come next keep the order in which they were first mentioned.

    Parameters: `after`, (pred, succ) or (pred, succ, lag); lags do not matter; `jobs`, names that come first
    or have no links. Result: list of jobs, each once.
    Errors: ComputeError for what is no link, and for work that waits for itself (the circle is named).
    Source: A. B. Kahn, "Topological sorting of large networks", Communications of the ACM 5 (1962) 558-562.

    >>> order([("tension down", "strings off", 0), ("strings off", "pins out", 0)], jobs=["survey"])
    ['survey', 'tension down', 'strings off', 'pins out']
    """
    links = read_links(after)
    named = [_name(job) for job in some("jobs", jobs, at_least=0)]
    mentioned = [job for before, then, _ in links for job in (before, then)]
    return sorted_jobs(dict.fromkeys([*named, *mentioned]), links)


def read_links(given: Iterable[GivenLink[Job]], known: Mapping[Any, float] | None = None) -> list[Link[Job]]:
    """Take the links as given, or name the one that is none or leads to an unknown job.

    Parameters: `given`, (pred, succ) or (pred, succ, lag); `known`, the jobs that there are (default: any).
    Result: list of triples, a missing lag as 0. Errors: ComputeError. Source: none needed.

    >>> read_links([("strip", "mend", 2), ("mend", "fit")])
    [('strip', 'mend', 2.0), ('mend', 'fit', 0.0)]
    """
    links = [_link(each) for each in some("after", given, at_least=0)]
    for before, then, _ in links:
        for job in (before, then):
            if known is not None and job not in known:
                raise ComputeError("after", job, "a job that has a duration")
    return links


def _link(given: GivenLink[Job]) -> Link[Job]:
    if not isinstance(given, (tuple, list)) or len(given) not in (2, 3):
        raise ComputeError("after", given, "the earlier job, the later job and, if any, the lag between them")
    before, then, *lag = given
    return _name(before), _name(then), number("after", *(lag or [0]), at_least=0, at_most=MOST, unit="as lag")


def _name(job: Job) -> Job:
    try:
        hash(job)
    except TypeError:
        raise ComputeError("job", job, "a name or number to know the job by") from None
    return job


def sorted_jobs(jobs: Iterable[Job], links: Iterable[Link[Job]]) -> list[Job]:
    """Take, again and again, the first-mentioned job that waits for nothing more.

    Parameters: `jobs`, each once; `links`, read. Result: jobs in order.
    Errors: ComputeError for work that waits for itself. Source: as for `order`.

    >>> sorted_jobs(["mend", "strip"], [("strip", "mend", 0.0)])
    ['strip', 'mend']
    """
    names = list(jobs)
    place = {job: index for index, job in enumerate(names)}
    then_of: dict[Job, list[Job]] = {job: [] for job in names}
    waits = dict.fromkeys(names, 0)
    for before, then, _ in links:
        then_of[before].append(then)
        waits[then] += 1
    ready = [place[job] for job in names if not waits[job]]
    heapify(ready)
    done = []
    while ready:
        done.append(job := names[heappop(ready)])
        for then in then_of[job]:
            waits[then] -= 1
            if not waits[then]:
                heappush(ready, place[then])
    if len(done) < len(names):
        _refuse_circle({job for job in names if waits[job]}, links)
    return done


def _refuse_circle(stuck: set[Job], links: Iterable[Link[Job]]) -> None:
    """Walk back from a stuck job to one that it waits for, until a job comes up again: that is the circle."""
    waits_for = {then: before for before, then, _ in links if before in stuck and then in stuck}
    walked: dict[Job, int] = {}
    job = next(then for _, then, _ in links if then in stuck)
    while job not in walked:
        walked[job] = len(walked)
        job = waits_for[job]
    back = list(walked)[walked[job] :]
    circle = (job, *reversed(back))
    named = " -> ".join(str(each) for each in circle)
    raise ComputeError("after", circle, f"no work that waits for itself; this goes round: {named}")
