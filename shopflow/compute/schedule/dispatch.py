"""A shop that runs by itself: whenever hands fall idle, the most urgent work that is ready goes on the bench.

This is how a department behaves that keeps to an order of urgency but never waits for a piece that is still
drying while other work is ready. (A fixed list worked off without such exchange makes everything look later
than it is.) Ties are settled the same way always: all that happens at one moment happens before anybody takes
new work, and then the most urgent goes first.
"""

from __future__ import annotations

from typing import NamedTuple

import numpy as np

from shopflow.compute.schedule.compiled import compiled
from shopflow.compute.schedule.decoder import clock_finish, work_after_rest
from shopflow.compute.schedule.tables import FAR, TICKS, Floats, Ints, Tables


class Queues(NamedTuple):
    """Jobs that need the same hands wait in one queue; ``urgency`` 0 goes first."""

    queue_of: Ints
    example: Ints  # one job of each queue
    urgency: Ints
    by_urgency: Ints


def queues_for(tables: Tables, order: Ints) -> Queues:
    """One queue per kind of need, with the jobs' urgency taken from an order."""
    numbers: dict[tuple[tuple[int, int], ...], int] = {}
    queue_of = []
    for job in range(len(tables.hours)):
        rows = slice(tables.need_ptr[job], tables.need_ptr[job + 1])
        needs = tuple(zip(tables.need[rows].tolist(), tables.need_hands[rows].tolist(), strict=True))
        queue_of.append(numbers.setdefault(needs, len(numbers)))
    urgency = np.empty(len(order), dtype=np.int64)
    urgency[order] = np.arange(len(order))
    example = np.array([queue_of.index(queue) for queue in range(len(numbers))], dtype=np.int64)
    return Queues(np.array(queue_of, dtype=np.int64), example, urgency, order)


@compiled
def run_many(tables: Tables, queues: Queues, hours: Ints, finish: Floats) -> None:
    """Run the shop once per row of ``hours`` (ticks); fills the rows of ``finish`` with clock hours."""
    jobs = hours.shape[1]
    done = np.zeros(jobs, dtype=np.int64)
    waits = np.zeros(jobs, dtype=np.int64)
    idle = np.zeros(len(tables.hands_ptr) - 1, dtype=np.int64)
    next_step = np.zeros(len(tables.hands_ptr) - 1, dtype=np.int64)
    moments = np.zeros(2 * jobs + 2, dtype=np.int64)
    what = np.zeros(2 * jobs + 2, dtype=np.int64)
    racks = np.zeros((len(queues.example), jobs + 1), dtype=np.int64)
    racked = np.zeros(len(queues.example), dtype=np.int64)
    for run in range(len(hours)):
        _run(tables, queues, hours[run], done, waits, idle, next_step, moments, what, racks, racked)
        for job in range(jobs):
            finish[run, job] = clock_finish(tables, done[job]) / TICKS


@compiled
def _run(
    tables: Tables,
    queues: Queues,
    hours: Ints,
    done: Ints,
    waits: Ints,
    idle: Ints,
    next_step: Ints,
    moments: Ints,
    what: Ints,
    racks: Ints,
    racked: Ints,
) -> None:
    """Run the shop once. An event is a job that becomes ready (its number) or ends (its number plus all
    jobs).
    """
    jobs = len(hours)
    events = 0
    racked[:] = 0
    for resource in range(len(idle)):
        idle[resource] = 0
        next_step[resource] = tables.hands_ptr[resource]
    for job in range(jobs):
        waits[job] = tables.pred_ptr[job + 1] - tables.pred_ptr[job]
        done[job] = tables.release[job]  # until it is done: when it is ready
        if waits[job] == 0:
            events = _push(moments, what, events, tables.release[job], job)
    while True:
        now = min(_next_change(tables, next_step), moments[0] if events else FAR)
        if now == FAR:
            return
        _change_hands(tables, idle, next_step, now)
        while events and moments[0] == now:
            event = what[0]
            events = _pop(moments, what, events)
            if event < jobs:
                _rack(queues, racks, racked, event)
            else:
                _give_back(tables, event - jobs, idle)
                events = _release_followers(tables, event - jobs, now, done, waits, moments, what, events)
        while True:
            job = _most_urgent(tables, queues, racks, racked, idle)
            if job < 0:
                break
            _unrack(queues, racks, racked, queues.queue_of[job])
            ends = _take_on(tables, job, now, hours[job], idle)
            done[job] = ends
            events = _push(moments, what, events, ends, jobs + job)


@compiled
def _next_change(tables: Tables, next_step: Ints) -> int:
    """When the number of hands in the shop changes next."""
    soonest = FAR
    for resource in range(len(next_step)):
        if next_step[resource] < tables.hands_ptr[resource + 1]:
            soonest = min(soonest, tables.hands_from[next_step[resource]])
    return soonest


@compiled
def _change_hands(tables: Tables, idle: Ints, next_step: Ints, now: int) -> None:
    for resource in range(len(next_step)):
        step = next_step[resource]
        if step < tables.hands_ptr[resource + 1] and tables.hands_from[step] == now:
            before = tables.hands[step - 1] if step > tables.hands_ptr[resource] else 0
            idle[resource] += tables.hands[step] - before
            next_step[resource] = step + 1


@compiled
def _release_followers(
    tables: Tables, job: int, now: int, ready: Ints, waits: Ints, moments: Ints, what: Ints, events: int
) -> int:
    """Note for each job that waited for this one when it is ready for it, rests included."""
    for arc in range(tables.succ_ptr[job], tables.succ_ptr[job + 1]):
        later, rest = tables.succ[arc], tables.succ_rest[arc]
        ready[later] = max(ready[later], work_after_rest(tables, now, rest) if rest > 0 else now)
        waits[later] -= 1
        if waits[later] == 0:
            events = _push(moments, what, events, ready[later], later)
    return events


@compiled
def _most_urgent(tables: Tables, queues: Queues, racks: Ints, racked: Ints, idle: Ints) -> int:
    """The most urgent job on any rack whose hands are all idle, or -1."""
    best = len(queues.urgency)
    for queue in range(len(racked)):
        if racked[queue] and racks[queue, 0] < best and _hands_idle(tables, queues.example[queue], idle):
            best = racks[queue, 0]
    return queues.by_urgency[best] if best < len(queues.urgency) else -1


@compiled
def _hands_idle(tables: Tables, job: int, idle: Ints) -> bool:
    for row in range(tables.need_ptr[job], tables.need_ptr[job + 1]):
        if idle[tables.need[row]] < tables.need_hands[row]:
            return False
    return True


@compiled
def _give_back(tables: Tables, job: int, idle: Ints) -> None:
    for row in range(tables.need_ptr[job], tables.need_ptr[job + 1]):
        idle[tables.need[row]] += tables.need_hands[row]


@compiled
def _take_on(tables: Tables, job: int, now: int, hours: int, idle: Ints) -> int:
    """Put hands on a job; tells when it ends, pausing while fewer hands are in the shop than it needs."""
    for row in range(tables.need_ptr[job], tables.need_ptr[job + 1]):
        idle[tables.need[row]] -= tables.need_hands[row]
    ends = now + hours
    paused = True
    while paused:
        away = _away(tables, job, now, ends)
        paused = away > ends - now - hours
        ends = now + hours + away
    return ends


@compiled
def _away(tables: Tables, job: int, begin: int, end: int) -> int:
    """Ticks between two moments in which a job's hands are not all in the shop."""
    away = 0
    moment = begin
    while moment < end:
        there, until = True, end
        for row in range(tables.need_ptr[job], tables.need_ptr[job + 1]):
            resource = tables.need[row]
            last = tables.hands_ptr[resource + 1] - 1
            step = tables.hands_ptr[resource]
            while step < last and tables.hands_from[step + 1] <= moment:
                step += 1
            there &= tables.hands[step] >= tables.need_hands[row]
            if step < last:
                until = min(until, tables.hands_from[step + 1])
        away += 0 if there else until - moment
        moment = until
    return away


@compiled
def _rack(queues: Queues, racks: Ints, racked: Ints, job: int) -> None:
    """Put a job on its queue's rack, a heap by urgency."""
    queue = queues.queue_of[job]
    rack = racks[queue]
    here = racked[queue]
    racked[queue] += 1
    urgency = queues.urgency[job]
    while here > 0 and rack[(here - 1) >> 1] > urgency:
        rack[here] = rack[(here - 1) >> 1]
        here = (here - 1) >> 1
    rack[here] = urgency


@compiled
def _unrack(queues: Queues, racks: Ints, racked: Ints, queue: int) -> None:
    """Take the most urgent job off a rack."""
    rack = racks[queue]
    racked[queue] -= 1
    count = racked[queue]
    last = rack[count]
    here = 0
    while 2 * here + 1 < count:
        child = 2 * here + 1
        if child + 1 < count and rack[child + 1] < rack[child]:
            child += 1
        if rack[child] >= last:
            break
        rack[here] = rack[child]
        here = child
    rack[here] = last


@compiled
def _push(moments: Ints, what: Ints, count: int, moment: int, event: int) -> int:
    """Note an event in the heap of coming events; tells how many there are now."""
    here = count
    while here > 0 and moments[(here - 1) >> 1] > moment:
        moments[here], what[here] = moments[(here - 1) >> 1], what[(here - 1) >> 1]
        here = (here - 1) >> 1
    moments[here], what[here] = moment, event
    return count + 1


@compiled
def _pop(moments: Ints, what: Ints, count: int) -> int:
    """Strike the first event off the heap; tells how many are left."""
    count -= 1
    moment, event = moments[count], what[count]
    here = 0
    while 2 * here + 1 < count:
        child = 2 * here + 1
        if child + 1 < count and moments[child + 1] < moments[child]:
            child += 1
        if moments[child] >= moment:
            break
        moments[here], what[here] = moments[child], what[child]
        here = child
    moments[here], what[here] = moment, event
    return count
