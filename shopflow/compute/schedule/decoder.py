"""The one way from an order of jobs to a plan: each job in turn takes the earliest time at which its hands
are free.

Serial schedule generation: R. Kolisch, "Serial and parallel resource-constrained project scheduling methods
revisited", European Journal of Operational Research 90 (1996). Exact for calendars, rests by the clock and
hands that come and go.

What a job holds (see ``rivals``) nobody else has meanwhile: it takes the earliest time at which its rivals
that are planned already leave it room as well.

A resource's time line is a row of pieces: piece k runs from ``since[k]`` to ``since[k + 1]``, the last one
for ever, with ``free[k]`` hands idle of ``there[k]`` that are in the shop.
"""

from __future__ import annotations

from typing import NamedTuple

import numpy as np

from shopflow.compute.schedule.compiled import compiled, inlined
from shopflow.compute.schedule.tables import FAR, Ints, Tables


class TimeLines(NamedTuple):
    """Idle hands of every resource over open hours, one row each."""

    since: Ints
    free: Ints
    there: Ints
    pieces: Ints
    changing: Ints  # 1 where hands come and go; elsewhere the row of ``there`` is the same throughout
    held_from: Ints  # of each job, FAR until it is planned
    held_until: Ints


def room_for(tables: Tables) -> TimeLines:
    """Empty time lines with room for every piece that any plan of the problem can cut."""
    resources = len(tables.hands_ptr) - 1
    busiest = int(np.bincount(tables.need, minlength=1).max()) if len(tables.need) else 0
    room = 2 * busiest + len(tables.hands) + 4
    since, free = (np.zeros((max(1, resources), room), dtype=np.int64) for _ in range(2))
    steps = np.diff(tables.hands_ptr) if resources else np.zeros(1, dtype=np.int64)
    there = np.zeros_like(since)
    there[:resources] = tables.hands[tables.hands_ptr[:-1], None]
    held = np.full(len(tables.hours) if len(tables.rival) else 0, FAR)
    return TimeLines(
        since, free, there, np.zeros_like(steps), (steps > 1).astype(np.int64), held, held.copy()
    )


def plan_of(tables: Tables, order: Ints) -> tuple[Ints, Ints]:
    """Start and finish of every job, in open ticks, when the jobs are planned in this order."""
    start, finish = np.zeros_like(tables.hours), np.zeros_like(tables.hours)
    decode(tables, order, room_for(tables), start, finish)
    return start, finish


@compiled
def clear(tables: Tables, lines: TimeLines) -> None:
    """Give every hand back, and every part."""
    lines.held_from[:] = FAR
    for resource in range(len(tables.hands_ptr) - 1):
        first = tables.hands_ptr[resource]
        count = tables.hands_ptr[resource + 1] - first
        for step in range(count):
            lines.since[resource, step] = tables.hands_from[first + step]
            lines.free[resource, step] = tables.hands[first + step]
            if lines.changing[resource]:
                lines.there[resource, step] = tables.hands[first + step]
        lines.pieces[resource] = count


@compiled
def decode(tables: Tables, order: Ints, lines: TimeLines, start: Ints, finish: Ints) -> None:
    """Plan all jobs in an order that puts each after those it waits for; fills start and finish."""
    clear(tables, lines)
    put(tables, order, 0, len(order), lines, start, finish)


@compiled
def put(
    tables: Tables, order: Ints, begin: int, end: int, lines: TimeLines, start: Ints, finish: Ints
) -> None:
    """Plan the jobs of a stretch of the order, each as early as what it waits for and its hands allow.

    The tables are taken apart first: a plain row is handed on for nothing, a table of rows is not.
    """
    not_before, pred_ptr, pred, pred_rest = tables.not_before, tables.pred_ptr, tables.pred, tables.pred_rest
    spell_work, spell_clock, all_hours = tables.spell_work, tables.spell_clock, tables.hours
    need_ptr, need, need_hands = tables.need_ptr, tables.need, tables.need_hands
    since, free, pieces, changing = lines.since, lines.free, lines.pieces, lines.changing
    rival_ptr = tables.rival_ptr
    for place in range(begin, end):
        job = order[place]
        ready, hours = not_before[job], all_hours[job]
        for arc in range(pred_ptr[job], pred_ptr[job + 1]):
            ready = max(ready, after_rest(spell_work, spell_clock, finish[pred[arc]], pred_rest[arc]))
        first = need_ptr[job]
        needs = need_ptr[job + 1] - first
        shares = rival_ptr[job] < rival_ptr[job + 1]
        if shares:
            ready = _ready_apart(tables, job, lines, ready, hours)
        if needs == 0:
            start[job], finish[job] = ready, ready + hours
        elif needs == 1 and not changing[need[first]]:
            start[job] = _place_steady(since, free, pieces, need[first], need_hands[first], ready, hours)
            finish[job] = start[job] + hours
        else:
            start[job], finish[job] = _earliest(tables, job, lines, ready, hours)
            _take_all(tables, job, lines, start[job], finish[job])
        if shares:
            lines.held_from[job] = start[job]
            lines.held_until[job] = after_rest(spell_work, spell_clock, finish[job], tables.keep[job])


@compiled
def _ready_apart(tables: Tables, job: int, lines: TimeLines, ready: int, hours: int) -> int:
    """From when on the first stretch in which a job's hands are idle is one in which its parts are free too.

    Whatever begins before a rival lets go runs into that rival as well, so nothing is overlooked by going on
    from there.
    """
    while True:
        begin, end = _earliest(tables, job, lines, ready, hours)
        end = after_rest(tables.spell_work, tables.spell_clock, end, tables.keep[job])
        until = begin
        for row in range(tables.rival_ptr[job], tables.rival_ptr[job + 1]):
            rival = tables.rival[row]
            if lines.held_from[rival] < end and begin < lines.held_until[rival]:
                until = max(until, lines.held_until[rival])
        if until == begin:
            return begin
        ready = until


@inlined
def clock_finish(tables: Tables, work: int) -> int:
    """The moment of the clock at which work that ends so many open ticks in is over."""
    spell = spell_ending_at(tables.spell_work, work)
    return tables.spell_clock[spell] + work - tables.spell_work[spell]


@inlined
def after_rest(spell_work: Ints, spell_clock: Ints, done: int, rest: int) -> int:
    """Where on the axis of open hours a rest by the clock ends that begins with the end of a job."""
    last = len(spell_work) - 1
    if rest == 0 or last == 0:
        return done + rest
    spell = spell_ending_at(spell_work, done)
    clock = spell_clock[spell] + done - spell_work[spell] + rest
    spell = spell_ending_at(spell_clock, clock + 1)
    work = spell_work[spell] + clock - spell_clock[spell]
    return work if spell == last else min(work, spell_work[spell + 1])


@inlined
def spell_ending_at(begins: Ints, moment: int) -> int:
    """The last spell that begins before a moment (the first if none does).

    Spells are much alike, so the place where they would be if they were all alike is a good guess to start
    from.
    """
    last = len(begins) - 1
    if last == 0:
        return 0
    guess = int((moment - begins[0]) * (last / (begins[last] - begins[0])))
    spell = min(last, max(0, guess))
    while spell > 0 and begins[spell] >= moment:
        spell -= 1
    while spell < last and begins[spell + 1] < moment:
        spell += 1
    return spell


@compiled
def _piece_at(lines: TimeLines, resource: int, moment: int) -> int:
    """The piece of a time line in which a moment lies."""
    low, high = 0, lines.pieces[resource]
    while high - low > 1:
        middle = (low + high) >> 1
        if lines.since[resource, middle] <= moment:
            low = middle
        else:
            high = middle
    return low


@inlined
def _place_steady(since: Ints, free: Ints, pieces: Ints, row: int, hands: int, ready: int, hours: int) -> int:
    """Find the earliest stretch and take it, for hands that never change: by far the most frequent case."""
    count = pieces[row]
    first, high = 0, count
    while high - first > 1:
        middle = (first + high) >> 1
        if since[row, middle] <= ready:
            first = middle
        else:
            high = middle
    piece, begin = first, ready
    while True:
        if free[row, piece] < hands:
            first = piece + 1
            begin = since[row, first]
        elif piece + 1 == count or since[row, piece + 1] - begin >= hours:
            break
        piece += 1
    pieces[row] = _carve(since, free, count, row, first, piece, begin, begin + hours, hands)
    return begin


@compiled
def _carve(
    since: Ints, free: Ints, count: int, row: int, first: int, last: int, begin: int, end: int, hands: int
) -> int:
    """Take hands out of pieces first to last, from begin to end; tells how many pieces there are now."""
    cut_left = since[row, first] < begin
    cut_right = last + 1 == count or since[row, last + 1] > end
    join_left = not cut_left and first > 0 and free[row, first - 1] == free[row, first] - hands
    join_right = not cut_right and free[row, last + 1] == free[row, last] - hands
    idle = free[row, last]
    left = 1 if cut_left else (-1 if join_left else 0)
    right = left + (1 if cut_right else (-1 if join_right else 0))
    body, tail = (first + 1 if join_left else first), (last + 2 if join_right else last + 1)
    if left < 0:
        _move(since, free, row, body, last + 1, left)
        _move(since, free, row, tail, count, right)
    else:
        _move(since, free, row, tail, count, right)
        _move(since, free, row, body, last + 1, left)
    for piece in range(body + left, last + 1 + left):
        free[row, piece] -= hands
    if cut_left:
        since[row, first + 1] = begin
    if cut_right:
        since[row, last + 1 + left] = end
        free[row, last + 1 + left] = idle
    return count + right


@compiled
def _move(since: Ints, free: Ints, row: int, begin: int, end: int, by: int) -> None:
    """Move pieces up or down their row."""
    if by > 0:
        for piece in range(end - 1, begin - 1, -1):
            since[row, piece + by] = since[row, piece]
            free[row, piece + by] = free[row, piece]
    elif by < 0:
        for piece in range(begin, end):
            since[row, piece + by] = since[row, piece]
            free[row, piece + by] = free[row, piece]


@compiled
def _take(lines: TimeLines, resource: int, hands: int, begin: int, end: int) -> None:
    """Take hands out of a time line for a job, except while it pauses."""
    _cut(lines, resource, begin)
    _cut(lines, resource, end)
    piece = first = _piece_at(lines, resource, begin)
    while piece < lines.pieces[resource] and lines.since[resource, piece] < end:
        if lines.there[resource, piece] >= hands:
            lines.free[resource, piece] -= hands
        piece += 1
    _join(lines, resource, piece)
    _join(lines, resource, first)


@compiled
def _cut(lines: TimeLines, resource: int, moment: int) -> None:
    """Make a piece begin at a moment."""
    piece = _piece_at(lines, resource, moment)
    if lines.since[resource, piece] == moment:
        return
    since, free, there = lines.since[resource], lines.free[resource], lines.there[resource]
    for later in range(lines.pieces[resource], piece + 1, -1):
        since[later] = since[later - 1]
        free[later] = free[later - 1]
    since[piece + 1] = moment
    free[piece + 1] = free[piece]
    if lines.changing[resource]:
        for later in range(lines.pieces[resource], piece, -1):
            there[later] = there[later - 1]
    lines.pieces[resource] += 1


@compiled
def _join(lines: TimeLines, resource: int, piece: int) -> None:
    """Make one of a piece and the one before it when they are alike: short time lines are quick to search."""
    since, free, there = lines.since[resource], lines.free[resource], lines.there[resource]
    if piece <= 0 or piece >= lines.pieces[resource]:
        return
    if free[piece] != free[piece - 1] or there[piece] != there[piece - 1]:
        return
    lines.pieces[resource] -= 1
    for later in range(piece, lines.pieces[resource]):
        since[later] = since[later + 1]
        free[later] = free[later + 1]
    if lines.changing[resource]:
        for later in range(piece, lines.pieces[resource]):
            there[later] = there[later + 1]


@compiled
def _look(tables: Tables, job: int, lines: TimeLines, now: int) -> tuple[bool, bool, int]:
    """All needed time lines at one moment: (enough in the shop, enough idle, until when nothing changes)."""
    in_shop, idle, until = True, True, FAR
    for row in range(tables.need_ptr[job], tables.need_ptr[job + 1]):
        resource, hands = tables.need[row], tables.need_hands[row]
        piece = _piece_at(lines, resource, now)
        in_shop &= lines.there[resource, piece] >= hands
        idle &= lines.free[resource, piece] >= hands
        if piece + 1 < lines.pieces[resource]:
            until = min(until, lines.since[resource, piece + 1])
    return in_shop, idle, until


@compiled
def _earliest(tables: Tables, job: int, lines: TimeLines, ready: int, hours: int) -> tuple[int, int]:
    """First stretch in which all needed hands are idle at once; a job pauses while any of them is away."""
    now, begin, left = ready, -1, hours
    while True:
        in_shop, idle, until = _look(tables, job, lines, now)
        if in_shop and idle:
            if begin < 0:
                begin = now
            if until - now >= left:
                return begin, now + left
            left -= until - now
        elif in_shop:
            begin, left = -1, hours
        now = until


@compiled
def _take_all(tables: Tables, job: int, lines: TimeLines, begin: int, end: int) -> None:
    """Take hands out of all needed time lines, except while the job pauses for want of any of them."""
    now = begin
    while now < end:
        in_shop, _, until = _look(tables, job, lines, now)
        until = min(until, end)
        if in_shop:
            for row in range(tables.need_ptr[job], tables.need_ptr[job + 1]):
                _take(lines, tables.need[row], tables.need_hands[row], now, until)
        now = until
