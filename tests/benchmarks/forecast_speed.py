"""The forecast against a discrete event library (SimPy) on the same shop, in the same run.

Run it with:  python -m tests.benchmarks.forecast_speed [instruments] [replications] [replications for the
library] for example:  python -m tests.benchmarks.forecast_speed 60 1000 10 The library runs fewer
replications, on the very hours of our first ones; its time is scaled up to the same number. Every finish of
every job must be the same, so mean and quantiles are as well.
"""

from __future__ import annotations

import resource
import sys
import time

import numpy as np
import simpy

from shopflow.compute.forecast import drawn_hours, simulate
from shopflow.compute.schedule import Problem
from shopflow.compute.schedule.dispatch import queues_for, run_many
from shopflow.compute.schedule.rules import latest_finishes, order_by
from shopflow.compute.schedule.tables import tables_of
from tests.benchmarks.workshop import workshop
from tests.compute.shop_by_events import run_by_events

SPREAD = 0.35


def main(instruments: int, replications: int, by_library: int) -> None:
    """Print times, their ratio and how well the results agree."""
    problem = workshop(instruments)
    simulate(problem, SPREAD, 2)
    began = time.perf_counter()
    told = simulate(problem, SPREAD, replications, seed=1)
    ours = time.perf_counter() - began
    tables = tables_of(problem)
    order = order_by(tables, latest_finishes(tables))
    hours = drawn_hours(tables, np.full(len(order), SPREAD), 0.5, by_library, np.random.default_rng(1))
    finish = np.zeros(hours.shape)
    run_many(tables, queues_for(tables, order), hours, finish)
    began = time.perf_counter()
    exact = np.array([run_by_events(problem, row / 1_000_000, order.tolist()) for row in hours])
    theirs = (time.perf_counter() - began) / by_library * replications
    began = time.perf_counter()
    for row in hours:
        _plain_library_run(problem, row / 1_000_000, order.tolist())
    plain = (time.perf_counter() - began) / by_library * replications
    print(f"{instruments} instruments, {len(problem.jobs)} tasks, {replications} replications: {ours:.2f} s")
    print(f"library, same tie rule: {theirs:.0f} s, {theirs / ours:.0f} times as long")
    print(f"library, its own priority queues: {plain:.0f} s, {plain / ours:.0f} times as long")
    print(f"largest difference of a finish over {exact.size} finishes: {np.abs(exact - finish).max():.6f} h")
    print(f"P80 of the first instrument {told.groups['instrument 0'][0.8] / 168:.1f} weeks")
    print(f"peak memory {resource.getrusage(resource.RUSAGE_SELF).ru_maxrss / 1024:.0f} MB")


def _plain_library_run(problem: Problem, hours: np.ndarray, order: list[int]) -> None:
    """The shop as the library's users would write it: a priority queue per department, open hours."""
    shop = simpy.Environment()
    hands = {name: simpy.PriorityResource(shop, problem.hands(name)) for name in problem.resources}
    done = {job.id: shop.event() for job in problem.jobs}
    urgency = {index: rank for rank, index in enumerate(order)}

    def work(index: int):
        job = problem.jobs[index]
        for earlier in job.after:
            yield done[earlier]
        wait = max(
            [job.release * 40 / 168 - shop.now, *(rest * 40 / 168 for rest in job.after.values()), 0.0]
        )
        if wait:
            yield shop.timeout(wait)
        with hands[next(iter(job.needs))].request(priority=urgency[index]) as turn:
            yield turn
            yield shop.timeout(hours[index])
        done[job.id].succeed()

    for index in range(len(problem.jobs)):
        shop.process(work(index))
    shop.run()


if __name__ == "__main__":
    main(*(int(word) for word in (sys.argv[1:] + ["60", "1000", "10"][len(sys.argv) - 1 :])))
