"""Who excludes whom: jobs that hold a part in common and are not one after the other in any case.

Only a few pairs of an instrument's jobs are left, since most of its work waits for each other anyhow. So a
part needs no time line of its own: a job looks at its rivals, wherever plans are made.
"""

from __future__ import annotations

import numpy as np

from shopflow.compute.schedule.compiled import compiled, inlined
from shopflow.compute.schedule.tables import Ints, Tables


def rivals(tables: Tables, hold_ptr: Ints, hold: Ints) -> Tables:
    """The tables with the rivals of each job, given the numbers of the parts that each job holds.

    What is held already is held from the beginning, so no rival begins before that is over.
    """
    jobs = len(tables.hours)
    holder_ptr = np.append(0, np.cumsum(np.bincount(hold))).astype(np.int64)
    holder = np.repeat(np.arange(jobs), np.diff(hold_ptr))[np.argsort(hold, kind="stable")]
    given = (tables.succ_ptr, tables.succ, tables.succ_rest, tables.keep, hold_ptr, hold, holder_ptr, holder)
    room = np.zeros(_not_after(*given, np.zeros(0, dtype=np.int64)), dtype=np.int64)
    _not_after(*given, room)
    pairs = np.unique(room)
    pairs = pairs[np.isin(pairs, pairs % jobs * jobs + pairs // jobs)]
    first, second = pairs // jobs, pairs % jobs
    not_before = tables.release.copy()
    held = tables.holding[first] > 0
    np.maximum.at(not_before, second[held], tables.release[first[held]])
    rival_ptr = np.append(0, np.cumsum(np.bincount(first, minlength=jobs))).astype(np.int64)
    return tables._replace(not_before=not_before, rival_ptr=rival_ptr, rival=second)


def without_rivals(tables: Tables) -> Tables:
    """The same problem, every job having its parts to itself."""
    return tables._replace(rival_ptr=np.zeros_like(tables.rival_ptr), rival=tables.rival[:0])


@compiled
def _not_after(
    succ_ptr: Ints,
    succ: Ints,
    succ_rest: Ints,
    keep: Ints,
    hold_ptr: Ints,
    hold: Ints,
    holder_ptr: Ints,
    holder: Ints,
    found: Ints,
) -> int:
    """Pairs (job, other holder of one of its parts) in which the other does not wait for the job to let go.

    Tells how many there are, and writes them down as far as there is room for them.
    """
    jobs, count = len(keep), 0
    seen, stack = np.full(jobs, -1), np.zeros(jobs, dtype=np.int64)
    for job in range(jobs):
        if hold_ptr[job] == hold_ptr[job + 1]:
            continue
        _mark_followers(succ_ptr, succ, succ_rest, keep[job], job, seen, stack)
        for row in range(hold_ptr[job], hold_ptr[job + 1]):
            for place in range(holder_ptr[hold[row]], holder_ptr[hold[row] + 1]):
                other = holder[place]
                if other != job and seen[other] != job:
                    if count < len(found):
                        found[count] = job * jobs + other
                    count += 1
    return count


@inlined
def _mark_followers(
    succ_ptr: Ints, succ: Ints, succ_rest: Ints, keep: int, job: int, seen: Ints, stack: Ints
) -> None:
    """Mark all that comes after a job and after what its rest keeps."""
    height = 0
    for arc in range(succ_ptr[job], succ_ptr[job + 1]):
        if succ_rest[arc] >= keep and seen[succ[arc]] != job:
            seen[succ[arc]] = job
            stack[height] = succ[arc]
            height += 1
    while height > 0:
        height -= 1
        here = stack[height]
        for arc in range(succ_ptr[here], succ_ptr[here + 1]):
            if seen[succ[arc]] != job:
                seen[succ[arc]] = job
                stack[height] = succ[arc]
                height += 1
