"""The same shop run by a discrete event library: a slow, plain reference for the forecast."""

from __future__ import annotations

import math
from collections.abc import Iterator, Mapping, Sequence

import simpy

from shopflow.compute.schedule import Job, Problem
from shopflow.compute.schedule.problem import JobId

TICKS = 1_000_000  # an hour
AFTER_ALL_ELSE = 5  # of what happens at one moment, work is handed out last


def run_by_events(
    problem: Problem,
    hours: Sequence[float],
    order: Sequence[int],
    rests: Mapping[tuple[JobId, JobId], float] | None = None,
    stops: Sequence[float] | None = None,
) -> list[float]:
    """Finish of each job by the clock when it takes so many open hours and work is handed out in this order.

    Time runs in open hours. Hands may come and go; work pauses while fewer are there than it needs. Rests are
    the planned ones unless others are given by (job before, job after); a stop, by job, holds a ready job up.
    Parts are held by one job at a time, over the rest that keeps them as well.
    """
    shop = Shop(problem, hours, order)
    shop.rests, shop.stops = rests, stops
    shop.clock.run()
    return shop.finish


class Shop:
    """Hands, jobs that are ready, and who waits for whom."""

    def __init__(self, problem: Problem, hours: Sequence[float], order: Sequence[int]) -> None:
        self.problem, self.hours = problem, hours
        self.clock = simpy.Environment(0)
        self.steps = {name: steps_in_open_hours(problem, name) for name in problem.resources}
        self.idle = dict.fromkeys(problem.resources, 0)
        self.place = {job.id: index for index, job in enumerate(problem.jobs)}
        self.urgency = {index: rank for rank, index in enumerate(order)}
        self.done = [self.clock.event() for _ in problem.jobs]
        self.finish = [math.nan] * len(problem.jobs)
        self.ready: list[int] = []
        self.rests: Mapping[tuple[JobId, JobId], float] | None = None
        self.stops: Sequence[float] | None = None
        self.held = [(name, job.id) for job in problem.jobs if job.holding for name in job.holds]
        for index in range(len(problem.jobs)):
            self.clock.process(self.come(index))
        for name in problem.resources:
            self.clock.process(self.change_hands(name))

    @property
    def now(self) -> float:
        return self.clock.now / TICKS

    def until(self, moment: float) -> simpy.Event:
        """Wait for a moment that is still to come. In whole ticks: what falls together is seen to."""
        return self.clock.timeout(max(0, round(moment * TICKS) - self.clock.now))

    def change_hands(self, name: str) -> Iterator[simpy.Event]:
        there = 0
        for moment, hands in self.steps[name].items():
            yield self.until(moment)
            self.idle[name] += hands - there
            there = hands
            self.hand_out_last()

    def come(self, index: int) -> Iterator[simpy.Event]:
        """Wait for everything before a job, rests included, then put it on the rack."""
        job = self.problem.jobs[index]
        moment = work_at(self.problem, job.release)
        for earlier, planned in job.after.items():
            yield self.done[self.place[earlier]]
            rest = planned if self.rests is None else self.rests[earlier, job.id]
            if rest:
                moment = max(moment, work_at(self.problem, self.finish[self.place[earlier]] + rest))
        yield self.until(moment)
        if self.stops is not None and self.stops[index]:
            goes_on = work_at(self.problem, clock_at_end(self.problem, self.now) + self.stops[index])
            yield self.until(goes_on)
        if job.holding:
            self.let_go(job)
        self.ready.append(index)
        self.hand_out_last()

    def hand_out_last(self) -> None:
        event = self.clock.event()
        event._ok, event._value = True, None
        event.callbacks.append(self.hand_out)
        self.clock.schedule(event, priority=AFTER_ALL_ELSE)

    def hand_out(self, _: simpy.Event) -> None:
        for index in sorted(self.ready, key=self.urgency.__getitem__):
            needs = self.problem.jobs[index].needs
            parts = self.problem.jobs[index].holds
            if any(name in parts for name, _ in self.held):
                continue
            if all(self.idle[name] >= hands for name, hands in needs.items()):
                self.ready.remove(index)
                self.held += [(name, self.problem.jobs[index].id) for name in parts]
                for name, hands in needs.items():
                    self.idle[name] -= hands
                self.clock.process(self.work(index))

    def work(self, index: int) -> Iterator[simpy.Event]:
        yield self.until(self.ends(index))
        for name, hands in self.problem.jobs[index].needs.items():
            self.idle[name] += hands
        self.finish[index] = clock_at_end(self.problem, self.now)
        self.done[index].succeed()
        self.clock.process(self.keep(self.problem.jobs[index], self.finish[index]))
        self.hand_out_last()

    def keep(self, job: Job, finish: float) -> Iterator[simpy.Event]:
        """Let go of a job's parts when the rest is over that keeps them."""
        rests = [
            self.rests[job.id, later.id]
            for later in self.problem.jobs
            if self.rests is not None and later.after.get(job.id) == job.keeps_hold
        ]
        keep = rests[0] if rests and job.keeps_hold else job.keeps_hold
        if keep:
            yield self.until(work_at(self.problem, finish + keep))
        self.let_go(job)

    def let_go(self, job: Job) -> None:
        for name in job.holds:
            self.held.remove((name, job.id))
        self.hand_out_last()

    def ends(self, index: int) -> float:
        """When a job that is begun now is done, pauses included: worked off from one change to the next."""
        needs, left, now = self.problem.jobs[index].needs, self.hours[index], self.now
        changes = sorted({moment for name in needs for moment in self.steps[name]})
        for until in [*(moment for moment in changes if moment > now), math.inf]:
            if all(self.there(name, now) >= hands for name, hands in needs.items()):
                if left <= until - now:
                    return now + left
                left -= until - now
            now = until
        raise AssertionError("the last hands stay for ever")

    def there(self, name: str, moment: float) -> int:
        return [hands for begins, hands in self.steps[name].items() if begins <= moment][-1]


def steps_in_open_hours(problem: Problem, name: str) -> dict[float, int]:
    """Hands of a resource from moments in open hours on; of changes in one night the last counts."""
    return {work_at(problem, begins): hands for begins, hands in problem.steps(name)}


def work_at(problem: Problem, clock: float) -> float:
    """Open hours that have passed by a moment of the clock."""
    if problem.shop_hours is None:
        return clock
    return sum(closes - opens for opens, closes in problem.shop_hours.open_between(0, clock))


def clock_at_end(problem: Problem, work: float) -> float:
    """When so many open hours have passed by the clock: the evening rather than the next morning."""
    return work if problem.shop_hours is None else problem.shop_hours.finish_of(start=0, hours=work)
