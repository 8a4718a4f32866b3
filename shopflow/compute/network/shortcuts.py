"""Ties that say nothing new, left out: a net on the wall is read more easily without them."""

from __future__ import annotations

from collections.abc import Iterable

from shopflow.compute.network.links import Job, read_links, sorted_jobs


def without_shortcuts(pairs: Iterable[tuple[Job, Job]]) -> list[tuple[Job, Job]]:
    """Keep only the ties that no longer chain of ties already says.

    Parameters: `pairs` (earlier, later); one given twice counts once.
    Result: the ties that remain, in the order given.
    Errors: ComputeError for what is no pair, and for work that waits for itself (the circle is named).
    Source: transitive reduction, A. V. Aho, M. R. Garey and J. D. Ullman, SIAM Journal on Computing 1 (1972)
    131-137 (from memory).

    >>> without_shortcuts([("strip", "sand"), ("sand", "stain"), ("strip", "stain")])
    [('strip', 'sand'), ('sand', 'stain')]
    """
    links = read_links(pairs)
    ties = list(dict.fromkeys((earlier, later) for earlier, later, _ in links))
    earlier_of: dict[Job, set[Job]] = {}
    for earlier, later in ties:
        earlier_of.setdefault(earlier, set())
        earlier_of.setdefault(later, set()).add(earlier)
    reach: dict[Job, set[Job]] = {}
    for job in sorted_jobs(earlier_of, links):
        reach[job] = earlier_of[job].union(*(reach[earlier] for earlier in earlier_of[job]))
    return [
        (earlier, later)
        for earlier, later in ties
        if not any(earlier in reach[other] for other in earlier_of[later])
    ]
