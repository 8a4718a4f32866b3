"""Networks of jobs: order, circles, and ties that say nothing new."""

from __future__ import annotations

from collections.abc import Hashable, Iterable
from typing import Any, TypeVar

from .errors import ComputeError

Job = TypeVar("Job", bound=Hashable)


def order(after: Iterable[tuple[Any, ...]]) -> list[Any]:
    """The jobs so that each comes after all that it waits for; the first mentioned first where free.

    `after` holds (earlier, later) or (earlier, later, lag). A circle raises `ComputeError` with its jobs.

    >>> order([("strip", "sand"), ("sand", "stain"), ("strip", "stain")])
    ['strip', 'sand', 'stain']
    """
    later_of: dict[Any, list[Any]] = {}
    waits: dict[Any, int] = {}
    for earlier, later, *_ in after:
        later_of.setdefault(earlier, []).append(later)
        later_of.setdefault(later, [])
        waits.setdefault(earlier, 0)
        waits[later] = waits.get(later, 0) + 1
    ready = [job for job, count in waits.items() if not count]
    done: list[Any] = []
    while ready:
        job = ready.pop(0)
        done.append(job)
        for later in later_of[job]:
            waits[later] -= 1
            if not waits[later]:
                ready.append(later)
    if len(done) < len(waits):
        circle = _circle({job for job, count in waits.items() if count}, later_of)
        raise ComputeError("after", circle, "a network without a circle")
    return done


def _circle(left: set[Any], later_of: dict[Any, list[Any]]) -> list[Any]:
    """One circle among the jobs that could not be ordered, in the order of waiting."""
    earlier_of = {later: job for job in left for later in later_of[job] if later in left}
    job = next(iter(earlier_of))
    seen: list[Any] = []
    while job not in seen:
        seen.append(job)
        job = earlier_of[job]
    return seen[seen.index(job) :][::-1]


def without_shortcuts(pairs: Iterable[tuple[Job, Job]]) -> list[tuple[Job, Job]]:
    """The ties that remain when each one already said by a longer chain is left out.

    >>> without_shortcuts([("strip", "sand"), ("sand", "stain"), ("strip", "stain")])
    [('strip', 'sand'), ('sand', 'stain')]
    """
    ties = list(dict.fromkeys(pairs))
    place = {job: number for number, job in enumerate(order(ties))}
    earlier_of: dict[Job, set[Job]] = {job: set() for job in place}
    for earlier, later in ties:
        earlier_of[later].add(earlier)
    reach: dict[Job, set[Job]] = {}
    for job in sorted(place, key=place.__getitem__):
        reach[job] = earlier_of[job].union(*(reach[e] for e in earlier_of[job]))
    return [
        (earlier, later)
        for earlier, later in ties
        if not any(earlier in reach[other] for other in earlier_of[later] if other != earlier)
    ]
