"""The one way from an order of jobs to a plan: each job in turn takes the earliest time at which its hands
are free.

Serial schedule generation: R. Kolisch, "Serial and parallel resource-constrained project scheduling methods
revisited", European Journal of Operational Research 90 (1996). Exact for calendars, rests by the clock and
hands that come and go.

A resource's time line is a row of pieces: piece k runs from ``since[k]`` to ``since[k + 1]``, the last one
for ever, with ``free[k]`` hands idle of ``there[k]`` that are in the shop.
"""

from __future__ import annotations

from typing import NamedTuple

import numpy as np

from shopflow.compute.schedule.compiled import compiled
from shopflow.compute.schedule.tables import FAR, Ints, Tables


class TimeLines(NamedTuple):
    """Idle hands of every resource over open hours, one row each."""

    since: Ints
    free: Ints
    there: Ints
    count: Ints


def room_for(tables: Tables) -> TimeLines:
    """Empty time lines with room for every piece that any plan of the problem can cut."""
    resources = len(tables.hands_ptr) - 1
    busiest = int(np.bincount(tables.need, minlength=1).max()) if len(tables.need) else 0
    room = 2 * busiest + len(tables.hands) + 4
    since, free, there = (np.zeros((max(1, resources), room), dtype=np.int64) for _ in range(3))
    return TimeLines(since, free, there, np.zeros(max(1, resources), dtype=np.int64))


def plan_of(tables: Tables, order: Ints) -> tuple[Ints, Ints]:
    """Start and finish of every job, in open ticks, when the jobs are planned in this order."""
    start, finish = np.zeros_like(tables.hours), np.zeros_like(tables.hours)
    decode(tables, order, room_for(tables), start, finish)
    return start, finish


@compiled
def clear(tables, lines):
    """Give every hand back."""
    for resource in range(len(tables.hands_ptr) - 1):
        first = tables.hands_ptr[resource]
        count = tables.hands_ptr[resource + 1] - first
        for step in range(count):
            lines.since[resource, step] = tables.hands_from[first + step]
            lines.free[resource, step] = tables.hands[first + step]
            lines.there[resource, step] = tables.hands[first + step]
        lines.count[resource] = count


@compiled
def decode(tables, order, lines, start, finish):
    """Plan all jobs in an order that puts each after those it waits for; fills start and finish."""
    clear(tables, lines)
    for place in range(len(order)):
        put(tables, order[place], lines, start, finish)


@compiled
def put(tables, job, lines, start, finish):
    """Plan one job at the earliest time that its predecessors, its release and its hands allow."""
    ready = ready_at(tables, job, finish)
    first = tables.need_ptr[job]
    needs = tables.need_ptr[job + 1] - first
    hours = tables.hours[job]
    if needs == 0:
        start[job] = ready
        finish[job] = ready + hours
    elif needs == 1:
        resource = tables.need[first]
        hands = tables.need_hands[first]
        start[job], finish[job] = _earliest(lines, resource, hands, ready, hours)
        _take(lines, resource, hands, start[job], finish[job])
    else:
        start[job], finish[job] = _earliest_together(tables, job, lines, ready, hours)
        _take_together(tables, job, lines, start[job], finish[job])


@compiled
def ready_at(tables, job, finish):
    """The first open tick at which everything that a job waits for is done, dry and there."""
    ready = tables.release[job]
    for arc in range(tables.pred_ptr[job], tables.pred_ptr[job + 1]):
        done = finish[tables.pred[arc]]
        rest = tables.pred_rest[arc]
        if rest > 0:
            done = work_after_rest(tables, done, rest)
        ready = max(ready, done)
    return ready


@compiled
def clock_finish(tables, work):
    """The moment of the clock at which work that ends so many open ticks in is over."""
    spell = max(0, np.searchsorted(tables.spell_work, work, side="left") - 1)
    return tables.spell_clock[spell] + work - tables.spell_work[spell]


@compiled
def work_after_rest(tables, done, rest):
    """Where on the axis of open hours a rest by the clock ends that begins with the end of a job."""
    spells = len(tables.spell_work)
    if spells == 1:
        return done + rest
    clock = clock_finish(tables, done) + rest
    spell = np.searchsorted(tables.spell_clock, clock, side="right") - 1
    work = tables.spell_work[spell] + clock - tables.spell_clock[spell]
    return work if spell + 1 == spells else min(work, tables.spell_work[spell + 1])


@compiled
def _piece_at(lines, resource, moment):
    """The piece of a time line in which a moment lies."""
    low, high = 0, lines.count[resource]
    while high - low > 1:
        middle = (low + high) >> 1
        if lines.since[resource, middle] <= moment:
            low = middle
        else:
            high = middle
    return low


@compiled
def _earliest(lines, resource, hands, ready, hours):
    """First stretch of one time line with enough idle hands; it pauses while too few are in the shop."""
    since, free, there = lines.since[resource], lines.free[resource], lines.there[resource]
    last = lines.count[resource] - 1
    piece = _piece_at(lines, resource, ready)
    now, begin, left = ready, np.int64(-1), hours
    while True:
        if free[piece] >= hands:
            if begin < 0:
                begin = now
            if piece == last or since[piece + 1] - now >= left:
                return begin, now + left
            left -= since[piece + 1] - now
        elif there[piece] >= hands:
            begin, left = np.int64(-1), hours
        piece += 1
        now = since[piece]


@compiled
def _take(lines, resource, hands, begin, end):
    """Take hands out of a time line for a job, except while it pauses."""
    _cut(lines, resource, begin)
    _cut(lines, resource, end)
    piece = first = _piece_at(lines, resource, begin)
    while piece < lines.count[resource] and lines.since[resource, piece] < end:
        if lines.there[resource, piece] >= hands:
            lines.free[resource, piece] -= hands
        piece += 1
    _join(lines, resource, piece)
    _join(lines, resource, first)


@compiled
def _cut(lines, resource, moment):
    """Make a piece begin at a moment."""
    piece = _piece_at(lines, resource, moment)
    if lines.since[resource, piece] == moment:
        return
    for later in range(lines.count[resource], piece + 1, -1):
        lines.since[resource, later] = lines.since[resource, later - 1]
        lines.free[resource, later] = lines.free[resource, later - 1]
        lines.there[resource, later] = lines.there[resource, later - 1]
    lines.since[resource, piece + 1] = moment
    lines.free[resource, piece + 1] = lines.free[resource, piece]
    lines.there[resource, piece + 1] = lines.there[resource, piece]
    lines.count[resource] += 1


@compiled
def _join(lines, resource, piece):
    """Make one of a piece and the one before it when they are alike: short time lines are quick to search."""
    if piece <= 0 or piece >= lines.count[resource]:
        return
    alike = lines.free[resource, piece] == lines.free[resource, piece - 1]
    if not (alike and lines.there[resource, piece] == lines.there[resource, piece - 1]):
        return
    lines.count[resource] -= 1
    for later in range(piece, lines.count[resource]):
        lines.since[resource, later] = lines.since[resource, later + 1]
        lines.free[resource, later] = lines.free[resource, later + 1]
        lines.there[resource, later] = lines.there[resource, later + 1]


@compiled
def _look(tables, job, lines, now):
    """All needed time lines at one moment: (enough in the shop, enough idle, until when nothing changes)."""
    in_shop, idle, until = True, True, FAR
    for row in range(tables.need_ptr[job], tables.need_ptr[job + 1]):
        resource, hands = tables.need[row], tables.need_hands[row]
        piece = _piece_at(lines, resource, now)
        in_shop &= lines.there[resource, piece] >= hands
        idle &= lines.free[resource, piece] >= hands
        if piece + 1 < lines.count[resource]:
            until = min(until, lines.since[resource, piece + 1])
    return in_shop, idle, until


@compiled
def _earliest_together(tables, job, lines, ready, hours):
    """As ``_earliest``, for a job that needs several resources at the same time."""
    now, begin, left = ready, np.int64(-1), hours
    while True:
        in_shop, idle, until = _look(tables, job, lines, now)
        if in_shop and idle:
            if begin < 0:
                begin = now
            if until - now >= left:
                return begin, now + left
            left -= until - now
        elif in_shop:
            begin, left = np.int64(-1), hours
        now = until


@compiled
def _take_together(tables, job, lines, begin, end):
    """Take hands out of all needed time lines, except while the job pauses for want of any of them."""
    now = begin
    while now < end:
        in_shop, _, until = _look(tables, job, lines, now)
        until = min(until, end)
        if in_shop:
            for row in range(tables.need_ptr[job], tables.need_ptr[job + 1]):
                _take(lines, tables.need[row], tables.need_hands[row], now, until)
        now = until
