"""The shop by itself: no plan, only urgency. Hands that fall idle begin the most urgent job that they can do.

This is how a shop works when hours turn out otherwise than planned: the plan gives the order of urgency, but
nobody waits for a piece that is still drying while other work is ready. (A fixed list worked off without such
exchange makes everything look later than it is.) Ties are settled the same way always: all that happens at
one moment happens before anybody takes new work, and then the most urgent goes first. A job that is ready
while a rival holds a part that it needs lies aside until that is given back.
"""

from __future__ import annotations

from typing import NamedTuple

import numpy as np

from shopflow.compute.schedule.coming import pop, push
from shopflow.compute.schedule.compiled import compiled, inlined
from shopflow.compute.schedule.pauses import end_of
from shopflow.compute.schedule.racks import Racks, first_place, lay, lift, racks_for, take_away
from shopflow.compute.schedule.tables import FAR, TICKS, Floats, Ints, Tables

NONE = np.uint32(2**32 - 1)
STOPPED = -1
NOT_READY, ASIDE, RACKED, TAKEN = range(4)
DAY_BITS = 25  # 2 ** 25 ticks are about a day and a half: the step of the table of rests' ends


class Shop(NamedTuple):
    """What is known before any run: the same for all of them, so laid out once in the form the runs read."""

    racks: Racks
    waits: Ints
    release: Ints
    coming_at: Ints
    coming: Ints
    succ_ptr: Ints
    succ: Ints
    change_at: Ints
    change_of: Ints
    change_by: Ints
    spell_work: Ints
    spell_clock: Ints
    spell_near: Ints
    rival_ptr: Ints
    rival: Ints
    keep: Ints
    keep_arc: Ints  # the rest after the job that keeps its parts, -1 where no other job waits for it
    holding: Ints
    held_up: Ints  # how many rivals of each job hold their parts as the run begins


class Floor(NamedTuple):
    """What is going on in one run."""

    ready: Ints
    waits: Ints
    idle: Ints
    ends: Ints
    ending: Ints
    later: Ints
    coming: Ints
    words: Ints
    lowest: Ints
    racked: Ints
    touched: Ints
    is_touched: Ints
    where: Ints  # NOT_READY, ASIDE, RACKED or TAKEN
    held_up: Ints  # how many rivals hold their parts now


def shop_for(tables: Tables, order: Ints) -> Shop:
    """Lay a problem out for many runs, urgency taken from an order of its jobs."""
    waits = np.diff(tables.pred_ptr).astype(np.int32)
    first = np.flatnonzero(waits == 0)
    coming = first[np.argsort(tables.release[first], kind="stable")]
    days = np.arange((tables.spell_clock[-1] >> DAY_BITS) + 1) << DAY_BITS
    near = np.searchsorted(tables.spell_clock, days, side="right") - 1
    return Shop(
        racks=racks_for(tables, order),
        waits=waits,
        release=tables.release,
        coming_at=np.append(tables.release[coming], FAR),
        coming=coming.astype(np.uint32),
        succ_ptr=tables.succ_ptr.astype(np.uint32),
        succ=tables.succ.astype(np.uint32),
        **_changes(tables),
        spell_work=np.append(tables.spell_work, FAR),
        spell_clock=np.append(tables.spell_clock, FAR),
        spell_near=np.maximum(near, 0).astype(np.uint32),
        **_holds(tables),
    )


def _holds(tables: Tables) -> dict[str, Ints]:
    """Who excludes whom, and which rest it is that keeps a job's parts."""
    of_arc = np.repeat(np.arange(len(tables.hours)), np.diff(tables.succ_ptr))
    the_same = np.flatnonzero((tables.keep[of_arc] > 0) & (tables.succ_rest == tables.keep[of_arc]))
    keep_arc = np.full(len(tables.hours), -1)
    keep_arc[of_arc[the_same]] = the_same
    holder = np.repeat(np.arange(len(tables.hours)), np.diff(tables.rival_ptr))
    held_up = np.bincount(tables.rival[tables.holding[holder] > 0], minlength=len(tables.hours))
    return {
        "rival_ptr": tables.rival_ptr.astype(np.uint32),
        "rival": tables.rival.astype(np.uint32),
        "keep": tables.keep,
        "keep_arc": keep_arc,
        "holding": tables.holding,
        "held_up": held_up.astype(np.int32),
    }


def _changes(tables: Tables) -> dict[str, Ints]:
    """Every moment at which hands come or go, with how many more they are then."""
    of = np.repeat(np.arange(len(tables.hands_ptr) - 1), np.diff(tables.hands_ptr))
    before = np.append(0, tables.hands[:-1])[: len(of)]
    before[tables.hands_ptr[:-1]] = 0
    turn = np.argsort(tables.hands_from, kind="stable")
    return {
        "change_at": np.append(tables.hands_from[turn], FAR),
        "change_of": of[turn].astype(np.uint32),
        "change_by": (tables.hands - before)[turn],
    }


def _floor(shop: Shop, resources: int) -> Floor:
    jobs, racks = len(shop.waits), len(shop.racks.word_ptr) - 1
    return Floor(
        ready=np.zeros(jobs, dtype=np.int64),
        waits=np.zeros(jobs, dtype=np.int32),
        idle=np.zeros(resources, dtype=np.int64),
        ends=np.full(jobs + 2, FAR),
        ending=np.zeros(jobs + 2, dtype=np.uint32),
        later=np.full(2 * jobs + 2, FAR),
        coming=np.zeros(2 * jobs + 2, dtype=np.uint32),
        words=np.zeros(shop.racks.word_ptr[-1], dtype=np.uint64),
        lowest=np.zeros(racks, dtype=np.uint32),
        racked=np.zeros(racks, dtype=np.int64),
        touched=np.zeros(racks + resources + 1, dtype=np.uint32),
        is_touched=np.zeros(racks + resources + 1, dtype=np.uint8),
        where=np.zeros(jobs, dtype=np.uint8),
        held_up=np.zeros(jobs, dtype=np.int32),
    )


def run_many(tables: Tables, shop: Shop, hours: Ints, rests: Ints, stops: Ints, finish: Floats) -> None:
    """Run the shop once per row of ``hours``; fills the rows of ``finish`` with clock hours.

    ``rests`` has a column per arc (as ``Tables.succ_rest``) and ``stops`` one per job: how long by the clock
    the job is stopped when all that it waits for is done, counted from the evening if that is at night. Both
    have a row per run, or one row for all. All in ticks.
    """
    _run_rows(tables, shop, _floor(shop, len(tables.hands_ptr) - 1), hours, rests, stops, finish)


@compiled
def _run_rows(
    tables: Tables, shop: Shop, floor: Floor, hours: Ints, rests: Ints, stops: Ints, finish: Floats
) -> None:
    for run in range(len(hours)):
        _run(tables, shop, floor, hours[run], rests[run % len(rests)], stops[run % len(stops)], finish[run])


@compiled
def _run(  # noqa: C901
    tables: Tables, shop: Shop, floor: Floor, hours: Ints, rests: Ints, stops: Ints, finish: Floats
) -> None:
    """Run the shop once: from one moment at which anything happens to the next, until all work is done."""
    racks, ends, later = shop.racks, floor.ends, floor.later
    _set_back(shop, floor)
    left, running, waiting, come, change, spell, touched = len(hours), 0, 0, 0, 0, 0, 0
    while left > 0:
        now = min(min(ends[0], later[0]), min(shop.coming_at[come], shop.change_at[change]))
        while shop.spell_work[spell + 1] < now:
            spell += 1
        clock = now - shop.spell_work[spell] + shop.spell_clock[spell]
        while shop.change_at[change] == now:
            touched = _change_hands(shop, floor, change, touched)
            change += 1
        while shop.coming_at[come] == now or later[0] == now:
            if later[0] == now:
                job = floor.coming[0]
                waiting = pop(later, floor.coming, waiting)
                if job >= len(hours):
                    touched = _let_go(shop, floor, job - len(hours), touched)
                    continue
            else:
                job = shop.coming[come]
                come += 1
            goes_on = _goes_on(shop, floor, stops, job, now, clock)
            if goes_on > now:
                waiting = push(later, floor.coming, waiting, goes_on, job)
            else:
                touched = _set_out(shop, floor, job, touched)
        while ends[0] == now:
            job = floor.ending[0]
            running = pop(ends, floor.ending, running)
            left -= 1
            finish[job] = clock / TICKS
            waiting, touched = _end(shop, floor, rests, stops, job, now, clock, waiting, touched)
        while touched > 0:
            rack, job, touched = _next_to_begin(racks, floor, touched)
            if rack == NONE:
                break
            _take(racks, floor, rack, job)
            _hold(shop, floor, job)
            end = end_of(tables, job, now, hours[job]) if racks.may_pause[rack] else now + hours[job]
            running = push(ends, floor.ending, running, end, job)
    later[:waiting] = FAR


@inlined
def _end(
    shop: Shop,
    floor: Floor,
    rests: Ints,
    stops: Ints,
    job: int,
    now: int,
    clock: int,
    waiting: int,
    touched: int,
) -> tuple[int, int]:
    """A job is done: its hands and parts are free, and what waits for it may go on."""
    touched = _give_back(shop.racks, floor, shop.racks.rack_of[job], touched)
    if shop.rival_ptr[job] < shop.rival_ptr[job + 1]:
        kept = _kept_until(shop, rests, job, now, clock)
        if kept > now:
            waiting = push(floor.later, floor.coming, waiting, kept, len(stops) + job)
        else:
            touched = _let_go(shop, floor, job, touched)
    for arc in range(shop.succ_ptr[job], shop.succ_ptr[job + 1]):
        follower = shop.succ[arc]
        rested = now if rests[arc] == 0 else _rested(shop, clock + rests[arc])
        floor.ready[follower] = max(floor.ready[follower], rested)
        floor.waits[follower] -= 1
        if floor.waits[follower] > 0:
            continue
        goes_on = floor.ready[follower]
        if goes_on == now:
            goes_on = _goes_on(shop, floor, stops, follower, now, clock)
        if goes_on > now:
            waiting = push(floor.later, floor.coming, waiting, goes_on, follower)
        else:
            touched = _set_out(shop, floor, follower, touched)
    return waiting, touched


@inlined
def _goes_on(shop: Shop, floor: Floor, stops: Ints, job: int, now: int, clock: int) -> int:
    """When a job whose waiting is over can be begun: now, unless it is stopped first."""
    if stops[job] == 0 or floor.waits[job] == STOPPED:
        return now
    floor.waits[job] = STOPPED
    return _rested(shop, clock + stops[job])


@inlined
def _set_back(shop: Shop, floor: Floor) -> None:
    """Nothing is done yet, and nobody is in the shop. The racks are empty after every run."""
    floor.ready[:] = shop.release
    floor.waits[:] = shop.waits
    floor.idle[:] = 0
    floor.lowest[:] = shop.racks.word_ptr[:-1]
    floor.where[:] = NOT_READY
    floor.held_up[:] = shop.held_up


@inlined
def _touch(floor: Floor, cluster: int, touched: int) -> int:
    """Note that work may be handed out in a cluster; tells how many are noted."""
    floor.touched[touched] = cluster
    touched += 1 - floor.is_touched[cluster]
    floor.is_touched[cluster] = 1
    return touched


@inlined
def _change_hands(shop: Shop, floor: Floor, change: int, touched: int) -> int:
    resource = shop.change_of[change]
    floor.idle[resource] += shop.change_by[change]
    return _touch(floor, shop.racks.cluster_of_resource[resource], touched)


@inlined
def _set_out(shop: Shop, floor: Floor, job: int, touched: int) -> int:
    """Put a job that is ready on its rack, or aside while a rival holds its parts."""
    if shop.holding[job]:
        touched = _let_go(shop, floor, job, touched)
    if floor.held_up[job] > 0:
        floor.where[job] = ASIDE
        return touched
    return _rack(shop.racks, floor, job, touched)


@inlined
def _hold(shop: Shop, floor: Floor, job: int) -> None:
    """Take the parts of a job that is begun: its rivals come off their racks."""
    floor.where[job] = TAKEN
    for row in range(shop.rival_ptr[job], shop.rival_ptr[job + 1]):
        rival = shop.rival[row]
        floor.held_up[rival] += 1
        if floor.where[rival] == RACKED:
            floor.where[rival] = ASIDE
            take_away(floor.words, shop.racks.place[rival])
            floor.racked[shop.racks.rack_of[rival]] -= 1


@inlined
def _let_go(shop: Shop, floor: Floor, job: int, touched: int) -> int:
    """Give the parts of a job back: rivals that nobody else holds up go on their racks."""
    for row in range(shop.rival_ptr[job], shop.rival_ptr[job + 1]):
        rival = shop.rival[row]
        floor.held_up[rival] -= 1
        if floor.held_up[rival] == 0 and floor.where[rival] == ASIDE:
            touched = _rack(shop.racks, floor, rival, touched)
    return touched


@inlined
def _kept_until(shop: Shop, rests: Ints, job: int, now: int, clock: int) -> int:
    """When a job that ends now lets go of its parts: after the rest that keeps them, as it was drawn."""
    arc = shop.keep_arc[job]
    keep = shop.keep[job] if arc < 0 else rests[arc]
    return now if keep == 0 else _rested(shop, clock + keep)


@inlined
def _rack(racks: Racks, floor: Floor, job: int, touched: int) -> int:
    """Put a job on its rack."""
    floor.where[job] = RACKED
    rack = racks.rack_of[job]
    lay(floor.words, floor.lowest, rack, racks.place[job])
    floor.racked[rack] += 1
    return _touch(floor, racks.cluster_of[rack], touched)


@inlined
def _give_back(racks: Racks, floor: Floor, rack: int, touched: int) -> int:
    """Set the hands of a job of a rack free."""
    for row in range(racks.need_ptr[rack], racks.need_ptr[rack + 1]):
        floor.idle[racks.need[row]] += racks.need_hands[row]
    return _touch(floor, racks.cluster_of[rack], touched)


@inlined
def _take(racks: Racks, floor: Floor, rack: int, job: int) -> None:
    """Take the first job off a rack, and its hands."""
    lift(floor.words, racks.place[job])
    floor.racked[rack] -= 1
    for row in range(racks.need_ptr[rack], racks.need_ptr[rack + 1]):
        floor.idle[racks.need[row]] -= racks.need_hands[row]


@inlined
def _next_to_begin(racks: Racks, floor: Floor, touched: int) -> tuple[int, int, int]:
    """The most urgent job that can be begun in any touched cluster: (rack, job, clusters that stay touched).

    All at once, because a job of one cluster may take the part that one of another needs.
    """
    best, found, job = NONE, NONE, NONE
    turn = 0
    while turn < touched:
        cluster = floor.touched[turn]
        rack, first = _most_urgent(racks, floor, cluster)
        if rack == NONE:
            floor.is_touched[cluster] = 0
            touched -= 1
            floor.touched[turn] = floor.touched[touched]
            continue
        if racks.urgency[first] < best:
            best, found, job = racks.urgency[first], rack, first  # type: ignore[assignment]  # small too
        turn += 1
    return found, job, touched  # type: ignore[return-value]  # small whole numbers, all


@inlined
def _most_urgent(racks: Racks, floor: Floor, cluster: int) -> tuple[int, int]:
    """The most urgent job on any rack of a cluster whose hands are all idle, as (rack, job), or NONE."""
    best, found, job = NONE, NONE, NONE
    for turn in range(racks.cluster_ptr[cluster], racks.cluster_ptr[cluster + 1]):
        rack = racks.cluster[turn]
        fits = floor.racked[rack] > 0
        for row in range(racks.need_ptr[rack], racks.need_ptr[rack + 1]):
            fits &= floor.idle[racks.need[row]] >= racks.need_hands[row]
        if fits:
            first = racks.job_at[first_place(floor.words, floor.lowest, rack)]
            if racks.urgency[first] < best:
                best, found, job = racks.urgency[first], rack, first
    return found, job  # type: ignore[return-value]  # small whole numbers, both


@inlined
def _rested(shop: Shop, until: int) -> int:
    """Where on the axis of open hours a moment of the clock lies; the next opening if the shop is closed."""
    spell = shop.spell_near[min(until >> DAY_BITS, len(shop.spell_near) - 1)]
    while shop.spell_clock[spell + 1] <= until:
        spell += 1
    return min(until - shop.spell_clock[spell] + shop.spell_work[spell], shop.spell_work[spell + 1])
