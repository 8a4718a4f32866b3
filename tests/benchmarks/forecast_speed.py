"""The forecast against a discrete event library (SimPy) on the same shop, in the same run.

Run it with:  python -m tests.benchmarks.forecast_speed [instruments] [replications] [library's replications]
for example:  python -m tests.benchmarks.forecast_speed 60 1000 10

The library's fastest run counts, as does the fastest of our forecasts; its time is scaled up to the same
number of replications. On a busy machine look at the processor time: by the clock ours is quick only with two
processors. A second model in the library settles ties as we do: every finish of every job must be the same,
so mean and quantiles are as well. Both models run in open hours, with the exact rests.
"""

from __future__ import annotations

import math
import resource
import sys
import time
from collections.abc import Callable, Sequence

import numpy as np
import simpy

from shopflow.compute.chances import drawn_hours
from shopflow.compute.forecast import THREADS, simulate
from shopflow.compute.schedule import Problem
from shopflow.compute.schedule.dispatch import run_many, shop_for
from shopflow.compute.schedule.rules import latest_finishes, order_by
from shopflow.compute.schedule.tables import tables_of
from tests.benchmarks.workshop import workshop
from tests.compute.shop_by_events import run_by_events

SPREAD = 0.35


def main(instruments: int, replications: int, by_library: int) -> None:
    """Print times, their ratio and how well the results agree."""
    problem = workshop(instruments)
    simulate(problem, SPREAD, 2)
    told = simulate(problem, SPREAD, replications, seed=1)
    ours, our_work = _fastest([lambda: simulate(problem, SPREAD, replications, seed=1)] * 5)
    tables = tables_of(problem)
    order = order_by(tables, latest_finishes(tables))
    hours = drawn_hours(tables, np.full(len(order), SPREAD), 0.5, by_library, np.random.default_rng(1))
    finish = np.zeros(hours.shape)
    no_stops = np.zeros((1, len(order)), dtype=np.int64)
    run_many(tables, shop_for(tables, order), hours, tables.succ_rest[None, :], no_stops, finish)
    rows, urgency = list(hours / 1_000_000), order.tolist()
    exact = np.array([run_by_events(problem, row, urgency) for row in rows])
    runs = [lambda row=row: _plain_library_run(problem, row, urgency) for row in rows]
    theirs, their_work = (replications * best for best in _fastest(runs))
    print(f"{instruments} instruments, {len(problem.jobs)} tasks, {replications} replications: {ours:.2f} s")
    print(f"library, its own priority queues: {theirs:.0f} s, {theirs / ours:.0f} times as long")
    times = their_work / our_work
    print(
        f"processor time {our_work:.2f} s in {THREADS} threads, {their_work:.0f} s: {times:.0f} times as much"
    )
    print(f"largest difference of a finish over {exact.size} finishes: {np.abs(exact - finish).max():.6f} h")
    print(f"P80 of the first instrument {told.groups['instrument 0'][0.8] / 168:.1f} weeks")
    print(f"peak memory {resource.getrusage(resource.RUSAGE_SELF).ru_maxrss / 1024:.0f} MB")


def _fastest(works: Sequence[Callable[[], object]]) -> tuple[float, float]:
    """The least seconds by the clock, and the least of processor time, that any of these took."""
    told = []
    for work in works:
        wall, cpu = time.perf_counter(), time.process_time()
        work()
        told.append((time.perf_counter() - wall, time.process_time() - cpu))
    return min(wall for wall, _ in told), min(cpu for _, cpu in told)


def _plain_library_run(problem: Problem, hours: np.ndarray, order: list[int]) -> float:
    """The shop as the library's users would write it: a priority queue per department, exact rests."""
    shop = simpy.Environment()
    hands = {name: simpy.PriorityResource(shop, problem.hands(name)) for name in problem.resources}
    done = {job.id: shop.event() for job in problem.jobs}
    urgency = {index: rank for rank, index in enumerate(order)}

    def work(index: int):
        job = problem.jobs[index]
        ready = _open_week_hours(job.release)
        for earlier, rest in job.after.items():
            ended = yield done[earlier]
            ready = max(ready, _open_week_hours(_clock(ended) + rest) if rest else ended)
        if ready > shop.now:
            yield shop.timeout(ready - shop.now)
        with hands[next(iter(job.needs))].request(priority=urgency[index]) as turn:
            yield turn
            yield shop.timeout(hours[index])
        done[job.id].succeed(shop.now)

    for index in range(len(problem.jobs)):
        shop.process(work(index))
    shop.run()
    return shop.now


def _open_week_hours(clock: float) -> float:
    """Open hours by a moment of the clock, in closed form for the workshop's week of five days of 8 h."""
    weeks, rest = divmod(clock, 168.0)
    days, hour = divmod(rest, 24.0)
    return weeks * 40.0 + (40.0 if days >= 5 else days * 8.0 + min(hour, 8.0))


def _clock(work: float) -> float:
    """The other way round; the evening rather than the next morning."""
    days = max(0.0, math.ceil(work / 8.0) - 1.0)
    weeks, day = divmod(days, 5.0)
    return weeks * 168.0 + day * 24.0 + work - days * 8.0


if __name__ == "__main__":
    main(*(int(word) for word in (sys.argv[1:] + ["60", "1000", "10"][len(sys.argv) - 1 :])))
