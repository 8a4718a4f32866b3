"""What is still to come in one run of the shop: a heap of moments, each with the job that it concerns.

The first moment is FAR when nothing is to come, so that whoever looks at it need not ask first.
"""

from __future__ import annotations

from shopflow.compute.schedule.compiled import inlined
from shopflow.compute.schedule.tables import FAR, Ints


@inlined
def push(moments: Ints, jobs: Ints, count: int, moment: int, job: int) -> int:
    """Note a moment; tells how many there are now."""
    here = count
    while here > 0:
        above = (here - 1) >> 1
        if moments[above] <= moment:
            break
        moments[here], jobs[here] = moments[above], jobs[above]
        here = above
    moments[here], jobs[here] = moment, job
    return count + 1


@inlined
def pop(moments: Ints, jobs: Ints, count: int) -> int:
    """Strike the first moment off; tells how many are left."""
    count -= 1
    moment, job = moments[count], jobs[count]
    moments[count] = FAR
    here, child = 0, 1
    while child < count:
        child += moments[child + 1] < moments[child]
        if moments[child] >= moment:
            break
        moments[here], jobs[here] = moments[child], jobs[child]
        here = child
        child = 2 * here + 1
    if count:
        moments[here], jobs[here] = moment, job
    return count
