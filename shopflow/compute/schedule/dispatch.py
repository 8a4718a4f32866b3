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
from shopflow.compute.schedule.decoder import after_rest, clock_finish
from shopflow.compute.schedule.tables import FAR, TICKS, Floats, Ints, Tables


class Queues(NamedTuple):
    """Jobs that need the same hands wait in one queue; ``urgency`` 0 goes first."""

    queue_of: Ints
    example: Ints  # one job of each queue
    urgency: Ints
    by_urgency: Ints


class Shop(NamedTuple):
    """What is going on in one run."""

    done: Ints
    waits: Ints
    idle: Ints
    next_step: Ints
    moments: Ints
    what: Ints
    racks: Ints
    racked: Ints


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
    jobs, resources = hours.shape[1], len(tables.hands_ptr) - 1
    shop = Shop(
        done=np.zeros(jobs, dtype=np.int64),
        waits=np.zeros(jobs, dtype=np.int64),
        idle=np.zeros(resources, dtype=np.int64),
        next_step=np.zeros(resources, dtype=np.int64),
        moments=np.zeros(2 * jobs + 2, dtype=np.int64),
        what=np.zeros(2 * jobs + 2, dtype=np.int64),
        racks=np.zeros((len(queues.example), jobs + 1), dtype=np.int64),
        racked=np.zeros(len(queues.example), dtype=np.int64),
    )
    for run in range(len(hours)):
        _run(tables, queues, shop, hours[run])
        for job in range(jobs):
            finish[run, job] = clock_finish(tables, shop.done[job]) / TICKS


@compiled
def _run(tables: Tables, queues: Queues, shop: Shop, hours: Ints) -> None:  # noqa: C901
    """Run the shop once. An event is a job that becomes ready (its number) or ends (that plus all jobs).

    One long function on purpose: the tables are taken apart once, for a plain row is handed on for nothing,
    a table of rows is not.
    """
    need_ptr, need, need_hands = tables.need_ptr, tables.need, tables.need_hands
    hands_ptr, hands_from, hands = tables.hands_ptr, tables.hands_from, tables.hands
    spell_work, spell_clock = tables.spell_work, tables.spell_clock
    succ_ptr, succ, succ_rest = tables.succ_ptr, tables.succ, tables.succ_rest
    queue_of, example, urgency, by_urgency = (
        queues.queue_of,
        queues.example,
        queues.urgency,
        queues.by_urgency,
    )
    done, waits, idle, next_step = shop.done, shop.waits, shop.idle, shop.next_step
    moments, what, racks, racked = shop.moments, shop.what, shop.racks, shop.racked
    jobs, events, steady = len(hours), 0, len(hands) == len(idle)
    racked[:] = 0
    idle[:] = 0
    next_step[:] = hands_ptr[:-1]
    for job in range(jobs):
        waits[job] = tables.pred_ptr[job + 1] - tables.pred_ptr[job]
        done[job] = tables.release[job]  # until it is done: when it is ready
        if waits[job] == 0:
            events = _push(moments, what, events, done[job], job)
    while True:
        now = moments[0] if events else FAR
        coming = _next_change(hands_ptr, hands_from, next_step)
        if coming <= now:
            now = coming
            if now == FAR:
                return
            _change_hands(hands_ptr, hands_from, hands, next_step, idle, now)
        while events and moments[0] == now:
            event = what[0]
            events = _pop(moments, what, events)
            if event < jobs:
                _rack(racks, racked, queue_of[event], urgency[event])
                continue
            job = event - jobs
            for row in range(need_ptr[job], need_ptr[job + 1]):
                idle[need[row]] += need_hands[row]
            for arc in range(succ_ptr[job], succ_ptr[job + 1]):
                later = succ[arc]
                ready = after_rest(spell_work, spell_clock, now, succ_rest[arc])
                done[later] = max(done[later], ready)
                waits[later] -= 1
                if waits[later] > 0:
                    continue
                if done[later] > now:
                    events = _push(moments, what, events, done[later], later)
                else:
                    _rack(racks, racked, queue_of[later], urgency[later])
        while True:
            first = _most_urgent(racks, racked, example, need_ptr, need, need_hands, idle)
            if first == FAR:
                break
            job = by_urgency[first]
            _unrack(racks, racked, queue_of[job])
            for row in range(need_ptr[job], need_ptr[job + 1]):
                idle[need[row]] -= need_hands[row]
            done[job] = now + hours[job] if steady else _end(tables, job, now, hours[job])
            events = _push(moments, what, events, done[job], jobs + job)


@compiled
def _next_change(hands_ptr: Ints, hands_from: Ints, next_step: Ints) -> int:
    """When the number of hands in the shop changes next."""
    soonest = FAR
    for resource in range(len(next_step)):
        if next_step[resource] < hands_ptr[resource + 1]:
            soonest = min(soonest, hands_from[next_step[resource]])
    return soonest


@compiled
def _change_hands(
    hands_ptr: Ints, hands_from: Ints, hands: Ints, next_step: Ints, idle: Ints, now: int
) -> None:
    for resource in range(len(next_step)):
        step = next_step[resource]
        if step < hands_ptr[resource + 1] and hands_from[step] == now:
            before = hands[step - 1] if step > hands_ptr[resource] else 0
            idle[resource] += hands[step] - before
            next_step[resource] = step + 1


@compiled
def _most_urgent(
    racks: Ints, racked: Ints, example: Ints, need_ptr: Ints, need: Ints, need_hands: Ints, idle: Ints
) -> int:
    """Urgency of the most urgent job on any rack whose hands are all idle, or FAR."""
    best = FAR
    for queue in range(len(racked)):
        if racked[queue] and racks[queue, 0] < best:
            fits = True
            for row in range(need_ptr[example[queue]], need_ptr[example[queue] + 1]):
                fits &= idle[need[row]] >= need_hands[row]
            if fits:
                best = racks[queue, 0]
    return best


@compiled
def _end(tables: Tables, job: int, now: int, hours: int) -> int:
    """When a job ends that pauses while fewer hands are in the shop than it needs."""
    ends, paused = now + hours, True
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
def _rack(racks: Ints, racked: Ints, queue: int, urgency: int) -> None:
    """Put a job on its queue's rack, a heap by urgency."""
    here = racked[queue]
    racked[queue] += 1
    while here > 0 and racks[queue, (here - 1) >> 1] > urgency:
        racks[queue, here] = racks[queue, (here - 1) >> 1]
        here = (here - 1) >> 1
    racks[queue, here] = urgency


@compiled
def _unrack(racks: Ints, racked: Ints, queue: int) -> None:
    """Take the most urgent job off a rack."""
    racked[queue] -= 1
    count = racked[queue]
    last = racks[queue, count]
    here = 0
    while 2 * here + 1 < count:
        child = 2 * here + 1
        if child + 1 < count and racks[queue, child + 1] < racks[queue, child]:
            child += 1
        if racks[queue, child] >= last:
            break
        racks[queue, here] = racks[queue, child]
        here = child
    racks[queue, here] = last


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
