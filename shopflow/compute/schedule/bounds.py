"""What no plan can beat: bounds that hold for the real problem, with its calendar, rests and changing hands.

Each bound relaxes something: ``finish_alone`` lets every job have all hands to itself, ``by_work`` lets work
be cut into crumbs and spread over all hands that are there. Both let jobs share the parts that they hold.
"""

from __future__ import annotations

import numpy as np

from shopflow.compute.schedule.compiled import compiled
from shopflow.compute.schedule.decoder import TimeLines, clear, put, room_for
from shopflow.compute.schedule.rivals import without_rivals
from shopflow.compute.schedule.rules import late_hours
from shopflow.compute.schedule.tables import FAR, TICKS, Floats, Ints, Tables, clock_of_finish, work_at


def lower_bound(tables: Tables, objective: str) -> float:
    """Hours of makespan, or of weighted lateness, that every plan has at least."""
    tables = without_rivals(tables)
    start, finish = np.zeros_like(tables.hours), np.zeros_like(tables.hours)
    finish_alone(tables, room_for(tables), start, finish)
    if objective == "tardiness":
        return float(late_hours(tables, finish))
    tails = np.zeros_like(tables.hours)
    count_tails(tables, least_open_ticks(tables), tails)
    work = max(int(np.max(finish + tails)), int(by_work(tables, start, tails)))
    return float(clock_of_finish(tables, np.array([work]))[0]) / TICKS


@compiled
def finish_alone(tables: Tables, lines: TimeLines, start: Ints, finish: Ints) -> None:
    """Starts and finishes, in open ticks, if every job found all hands idle."""
    for place in range(len(tables.topo)):
        clear(tables, lines)
        put(tables, tables.topo, place, place + 1, lines, start, finish)


def least_open_ticks(tables: Tables) -> Ints:
    """For each rest, the fewest open ticks it can cover: those of one that begins as the shop closes."""
    if len(tables.spell_work) < 2:
        return tables.pred_rest
    closings = tables.spell_clock[:-1] + np.diff(tables.spell_work)
    least = {int(rest): _least_open(tables, closings, int(rest)) for rest in np.unique(tables.pred_rest)}
    return np.array([least[int(rest)] for rest in tables.pred_rest], dtype=np.int64)


def _least_open(tables: Tables, closings: Ints, rest: int) -> int:
    inside = closings + rest <= closings[-1]
    after = work_at(tables.spell_work, tables.spell_clock, closings[inside] + rest)
    return int(np.min(after - tables.spell_work[1:][inside], initial=FAR)) if inside.any() else 0


@compiled
def count_tails(tables: Tables, open_rest: Ints, tails: Ints) -> None:
    """Open ticks that must still pass after each job's end, however idle the hands are."""
    for place in range(len(tables.topo) - 1, -1, -1):
        job = tables.topo[place]
        for arc in range(tables.pred_ptr[job], tables.pred_ptr[job + 1]):
            tail = open_rest[arc] + tables.hours[job] + tails[job]
            tails[tables.pred[arc]] = max(tails[tables.pred[arc]], tail)


def by_work(tables: Tables, heads: Ints, tails: Ints) -> int:
    """The open tick before which no resource can be done, given what comes before and after its work."""
    bounds = [_of_resource(tables, resource, heads, tails) for resource in range(len(tables.hands_ptr) - 1)]
    return max(bounds, default=0)


def _of_resource(tables: Tables, resource: int, heads: Ints, tails: Ints) -> int:
    rows = np.flatnonzero(tables.need == resource)
    jobs = np.searchsorted(tables.need_ptr, rows, side="right") - 1
    falling = np.argsort(-tails[jobs], kind="stable")
    jobs, work = jobs[falling], (tables.hours[jobs] * tables.need_hands[rows]).astype(np.float64)[falling]
    steps = slice(tables.hands_ptr[resource], tables.hands_ptr[resource + 1])
    return _latest_end(heads[jobs], tails[jobs], work, tables.hands_from[steps], tables.hands[steps])


@compiled
def _latest_end(heads: Ints, tails: Ints, work: Floats, hands_from: Ints, hands: Ints) -> int:
    """Over all sets of jobs that begin at or after one head and have at least one tail: when their work is
    done.
    """
    latest = 0
    for first in range(len(heads)):
        together = 0.0
        for job in range(len(heads)):
            if heads[job] >= heads[first]:
                together += work[job]
                latest = max(latest, _spent(heads[first], together, hands_from, hands) + tails[job])
    return latest


@compiled
def _spent(begin: int, work: float, hands_from: Ints, hands: Ints) -> int:
    """When all hands together, from a moment onwards, have done so much work."""
    last = len(hands) - 1
    now = float(begin)
    for step in range(last + 1):
        ends = float(hands_from[step + 1]) if step < last else np.inf
        if ends <= now:
            continue
        if hands[step] > 0 and (step == last or (ends - now) * hands[step] >= work):
            return int(np.ceil(now + work / hands[step] - 0.5))
        work -= (ends - now) * hands[step]
        now = ends
    return int(now)
