"""When work ends that pauses while fewer hands are in the shop than it needs."""

from __future__ import annotations

from shopflow.compute.schedule.compiled import compiled
from shopflow.compute.schedule.tables import Ints, Tables


@compiled
def end_of(tables: Tables, job: int, now: int, hours: int) -> int:
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
            step = _step_at(tables.hands_from, tables.hands_ptr[resource], last, moment)
            there &= tables.hands[step] >= tables.need_hands[row]
            if step < last:
                until = min(until, tables.hands_from[step + 1])
        away += 0 if there else until - moment
        moment = until
    return away


@compiled
def _step_at(begins: Ints, first: int, last: int, moment: int) -> int:
    """The last of some steps that has begun by a moment."""
    while first < last:
        middle = (first + last + 1) >> 1
        if begins[middle] <= moment:
            first = middle
        else:
            last = middle - 1
    return first
