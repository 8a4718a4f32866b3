"""The workshop: first plan, plan after some seconds, spread between seeds, and the exact engine on the same
shop.

Run it with:  python -m tests.benchmarks.workshop_plan [seconds] [seeds] [seconds for the exact engine]
for example:  python -m tests.benchmarks.workshop_plan 10 4 120
The exact engine (OR-Tools CP-SAT, 8 workers) gets whole hours and rests as fixed working hours, which is
easier than the real problem; its order is then decoded exactly, as ours is. All in one run, so that the
machine is the same.
"""

from __future__ import annotations

import resource
import sys
import time

from ortools.sat.python import cp_model

from shopflow.compute.schedule import Problem, Solution, solve, warm_up
from tests.benchmarks.workshop import workshop


def main(seconds: float, seeds: int, exact_seconds: float) -> None:
    """Print every figure."""
    warm_up()
    for instruments in (60, 200):
        problem = workshop(instruments)
        first = min(_timed(problem) for _ in range(5))
        print(f"{instruments} instruments, {len(problem.jobs)} tasks: first plan {1000 * first:.0f} ms")
    problem = workshop(60)
    print(f"first plan {_words(solve(problem, 0, 'tardiness'))}")
    cpu, wall = time.process_time(), time.perf_counter()
    plans = [solve(problem, seconds, "tardiness", seed, iterations=None) for seed in range(seeds)]
    share = (time.process_time() - cpu) / (time.perf_counter() - wall) / 2
    assert not any(plan.violations() for plan in plans)
    for plan in plans:
        print(f"{seconds:g} s: {_words(plan)}, {plan.iterations} tries, budget spent: {plan.complete}")
    late = [plan.tardiness for plan in plans]
    print(f"spread between seeds {max(late) / min(late) - 1:.1%}; {share:.0%} of two processors had")
    print(f"peak memory {resource.getrusage(resource.RUSAGE_SELF).ru_maxrss / 1024:.0f} MB")
    if exact_seconds:
        late_exact = exact_tardiness(problem, exact_seconds)
        ratio = late_exact / max(late)
        print(f"exact engine {exact_seconds:g} s: {late_exact:,.0f} h late, {ratio:.2f} times our worst")


def _timed(problem: Problem) -> float:
    began = time.perf_counter()
    solve(problem, 0, "tardiness")
    return time.perf_counter() - began


def _words(plan: Solution) -> str:
    return f"{plan.tardiness:,.0f} weighted h late, {plan.makespan / 168:.1f} weeks"


def exact_tardiness(problem: Problem, seconds: float) -> float:
    """Weighted hours late of the exact engine's order, decoded exactly."""
    from shopflow.compute.schedule.decoder import plan_of
    from shopflow.compute.schedule.rules import late_hours, order_by
    from shopflow.compute.schedule.tables import tables_of

    tables = tables_of(problem)
    ranks = tables.hours * 0.0
    starts = _exact_starts(problem, seconds)
    for place, job in enumerate(problem.jobs):
        ranks[place] = starts[job.id]
    _, finish = plan_of(tables, order_by(tables, ranks))
    return float(late_hours(tables, finish))


def _exact_starts(problem: Problem, seconds: float) -> dict:
    """Starts in whole open hours (40 a week); rests and due dates are turned into them by their share."""
    model, horizon = cp_model.CpModel(), int(sum(job.hours for job in problem.jobs))
    share = 40 / 168
    start = {job.id: model.new_int_var(round(job.release * share), horizon, "") for job in problem.jobs}
    hours = {job.id: max(1, round(job.hours)) for job in problem.jobs}
    spell = {
        job.id: model.new_fixed_size_interval_var(start[job.id], hours[job.id], "") for job in problem.jobs
    }
    for job in problem.jobs:
        for earlier, rest in job.after.items():
            model.add(start[job.id] >= start[earlier] + hours[earlier] + round(rest * share))
    for name in problem.resources:
        users = [job for job in problem.jobs if name in job.needs]
        model.add_cumulative(
            [spell[job.id] for job in users], [job.needs[name] for job in users], problem.hands(name)
        )
    late = []
    for job in problem.jobs:
        if job.due is not None:
            over = model.new_int_var(0, horizon, "")
            model.add(over >= start[job.id] + hours[job.id] - round(job.due * share))
            late.append(int(job.weight) * over)
    model.minimize(sum(late))
    solver = cp_model.CpSolver()
    solver.parameters.num_workers = 8
    solver.parameters.max_time_in_seconds = seconds
    status = solver.solve(model)
    assert status in (cp_model.OPTIMAL, cp_model.FEASIBLE), "no plan in time"
    return {job: solver.value(begins) for job, begins in start.items()}


if __name__ == "__main__":
    given = sys.argv[1:] + ["10", "4", "120"][len(sys.argv) - 1 :]
    main(float(given[0]), int(given[1]), float(given[2]))
