"""Plan again only what changed: the time lines are noted every few jobs, and a new order starts from the last
note before its first change. It stops early when it is sure to come out worse than what would be accepted.
"""

from __future__ import annotations

from typing import NamedTuple

import numpy as np

from shopflow.compute.schedule.bounds import least_open_ticks
from shopflow.compute.schedule.compiled import compiled
from shopflow.compute.schedule.decoder import TimeLines, clear, put, room_for, spell_ending_at
from shopflow.compute.schedule.tables import FAR, TICKS, Floats, Ints, Tables, work_at

STEP = 48  # jobs between two notes

# Between plans equally late the shorter one is better, between equally short ones the earlier one.
TIE = 1e-3


class Trail(NamedTuple):
    """Notes of the order that stands and of the one that is tried: two banks, and which of them is the
    standing one.
    """

    since: Ints
    free: Ints
    there: Ints
    pieces: Ints
    bank: Ints
    lines: TimeLines
    start: Ints
    finish: Ints
    standing_finish: Ints
    standing_from: Ints  # when each job's parts are taken and given back, as in the time lines
    standing_until: Ints
    goal: Ints  # number of the promise that hangs on each job, -1 for none
    tail: Ints
    promised: Ints  # the job of each promise
    due_work: Ints
    latest: Ints  # of each promise; last row: as planned so far, others: per note and bank
    late: Floats
    sure: Floats


def trail_for(tables: Tables, by_makespan: bool) -> Trail:
    """Room for the notes of one search."""
    lines = room_for(tables)
    notes = len(tables.hours) // STEP + 1
    jobs = len(tables.hours)
    goal, tail = np.full(jobs, -1, dtype=np.int64), np.zeros(jobs, dtype=np.int64)
    find_goals(tables, least_open_ticks(tables), by_makespan, goal, tail)
    promised, numbered = np.unique(goal[goal >= 0], return_inverse=True)
    goal[goal >= 0] = numbered
    due = np.clip(tables.due[promised], 0, FAR // 4)
    return Trail(
        since=np.zeros((2, notes, *lines.since.shape), dtype=np.int64),
        free=np.zeros((2, notes, *lines.since.shape), dtype=np.int64),
        there=np.zeros((2, notes, *lines.since.shape), dtype=np.int64),
        pieces=np.zeros((2, notes, len(lines.pieces)), dtype=np.int64),
        bank=np.zeros(notes, dtype=np.int64),
        lines=lines,
        start=np.zeros(jobs, dtype=np.int64),
        finish=np.zeros(jobs, dtype=np.int64),
        standing_finish=np.zeros(jobs, dtype=np.int64),
        standing_from=lines.held_from.copy(),
        standing_until=lines.held_until.copy(),
        goal=goal,
        tail=tail,
        promised=promised,
        due_work=work_at(tables.spell_work, tables.spell_clock, due),
        latest=np.zeros((2 * notes + 1, len(promised)), dtype=np.int64),
        late=np.zeros((2 * notes + 1, len(promised))),
        sure=np.zeros(2 * notes + 1),
    )


@compiled
def find_goals(tables: Tables, open_rest: Ints, by_makespan: bool, goal: Ints, tail: Ints) -> None:
    """For each job one promise that hangs on it, and the open ticks that must pass between its end and that
    one's.
    """
    for place in range(len(tables.topo) - 1, -1, -1):
        job = tables.topo[place]
        if goal[job] < 0 and (by_makespan or tables.weight[job] > 0):
            goal[job], tail[job] = job, 0
        for arc in range(tables.pred_ptr[job], tables.pred_ptr[job + 1]):
            earlier = tables.pred[arc]
            length = tail[job] + tables.hours[job] + open_rest[arc]
            due_itself = tables.weight[earlier] > 0 and not by_makespan
            if goal[job] >= 0 and not due_itself and (goal[earlier] < 0 or length > tail[earlier]):
                goal[earlier], tail[earlier] = goal[job], length


@compiled
def replay(tables: Tables, trail: Trail, order: Ints, changed: int, limit: float, by_makespan: bool) -> float:
    """Plan an order that is new from place ``changed`` on; its energy in hours, or infinity when beyond the
    limit.
    """
    note = changed // STEP
    begin = note * STEP
    _recall(tables, trail, note)
    trail.finish[:] = trail.standing_finish
    if note > 0 and len(trail.standing_from) > 0:
        trail.lines.held_from[:] = trail.standing_from
        trail.lines.held_until[:] = trail.standing_until
        for place in range(begin, len(order)):
            trail.lines.held_from[order[place]] = FAR
    sure = trail.sure[-1]
    for place in range(begin, len(order), STEP):
        if place > begin:
            _note(trail, place // STEP, sure)
        end = min(place + STEP, len(order))
        put(tables, order, place, end, trail.lines, trail.start, trail.finish)
        sure = _sure_energy(tables, trail, order, place, end, sure, by_makespan)
        if sure > limit:
            return np.inf
    return sure + TIE * _small_change(trail.finish, by_makespan)


@compiled
def _sure_energy(
    tables: Tables, trail: Trail, order: Ints, begin: int, end: int, sure: float, by_makespan: bool
) -> float:
    """What the energy comes to at least, now that the jobs of a stretch have their ends."""
    finish, tail, goals = trail.finish, trail.tail, trail.goal
    latest, late, promised, last = trail.latest, trail.late, trail.promised, len(trail.sure) - 1
    spell_work, spell_clock, due, weight = tables.spell_work, tables.spell_clock, tables.due, tables.weight
    for place in range(begin, end):
        job = order[place]
        ends, goal = finish[job] + tail[job], goals[job]
        if by_makespan:
            sure = max(sure, ends / TICKS)
        elif goal >= 0 and ends > latest[last, goal]:
            promise = promised[goal]
            spell = spell_ending_at(spell_work, ends)
            clock = spell_clock[spell] + ends - spell_work[spell]
            now_late = weight[promise] * ((clock - due[promise]) / TICKS)
            sure += now_late - late[last, goal]
            latest[last, goal] = ends
            late[last, goal] = now_late
    return sure


@compiled
def _small_change(finish: Ints, by_makespan: bool) -> float:
    """Mean finish or makespan in hours: what decides between plans that are equal otherwise."""
    most, total = 0, 0.0
    for job in range(len(finish)):
        most = max(most, finish[job])
        total += finish[job]
    return total / len(finish) / TICKS if by_makespan else most / TICKS


@compiled
def accept(trail: Trail, changed: int) -> None:
    """Let the order that was tried last be the one that stands."""
    for note in range(changed // STEP + 1, len(trail.bank)):
        trail.bank[note] = 1 - trail.bank[note]
    trail.standing_finish[:] = trail.finish
    trail.standing_from[:] = trail.lines.held_from
    trail.standing_until[:] = trail.lines.held_until


@compiled
def _note(trail: Trail, note: int, sure: float) -> None:
    """Note time lines and lateness in the bank that does not stand."""
    bank, lines = 1 - trail.bank[note], trail.lines
    row = 2 * note + bank
    trail.latest[row] = trail.latest[-1]
    trail.late[row] = trail.late[-1]
    trail.sure[row] = sure
    for resource in range(len(lines.pieces)):
        count = lines.pieces[resource]
        trail.pieces[bank, note, resource] = count
        trail.since[bank, note, resource, :count] = lines.since[resource, :count]
        trail.free[bank, note, resource, :count] = lines.free[resource, :count]
        if lines.changing[resource]:
            trail.there[bank, note, resource, :count] = lines.there[resource, :count]


@compiled
def _recall(tables: Tables, trail: Trail, note: int) -> None:
    """Set everything back to a note of the order that stands; note 0 is the empty shop."""
    if note == 0:
        clear(tables, trail.lines)
        trail.latest[-1] = trail.due_work
        trail.late[-1] = 0.0
        trail.sure[-1] = 0.0
        return
    bank, lines = trail.bank[note], trail.lines
    row = 2 * note + bank
    trail.latest[-1] = trail.latest[row]
    trail.late[-1] = trail.late[row]
    trail.sure[-1] = trail.sure[row]
    for resource in range(len(lines.pieces)):
        count = trail.pieces[bank, note, resource]
        lines.pieces[resource] = count
        lines.since[resource, :count] = trail.since[bank, note, resource, :count]
        lines.free[resource, :count] = trail.free[bank, note, resource, :count]
        if lines.changing[resource]:
            lines.there[resource, :count] = trail.there[bank, note, resource, :count]
