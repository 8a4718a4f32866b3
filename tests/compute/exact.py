"""The best possible value of a small plan, from an exact solver that shares no code with ours."""

from __future__ import annotations

from ortools.sat.python import cp_model

from shopflow.compute.schedule import Job, Problem


def best_makespan(problem: Problem) -> int:
    """Shortest makespan of a problem in whole hours without a calendar."""
    model, ends = _model(problem)
    last = model.new_int_var(0, _horizon(problem), "last")
    model.add_max_equality(last, list(ends.values()))
    model.minimize(last)
    return _solved(model)


def best_tardiness(problem: Problem) -> int:
    """Least weighted lateness of a problem in whole hours without a calendar."""
    model, ends = _model(problem)
    late = []
    for job in problem.jobs:
        if job.due is not None:
            over = model.new_int_var(0, _horizon(problem), f"late {job.id}")
            model.add(over >= ends[job.id] - int(job.due))
            late.append(int(job.weight) * over)
    model.minimize(sum(late))
    return _solved(model)


def _model(problem: Problem) -> tuple[cp_model.CpModel, dict]:
    model = cp_model.CpModel()
    horizon = _horizon(problem)
    starts = {job.id: model.new_int_var(int(job.release), horizon, f"start {job.id}") for job in problem.jobs}
    ends = {job.id: starts[job.id] + int(job.hours) for job in problem.jobs}
    spells = {
        job.id: model.new_fixed_size_interval_var(starts[job.id], int(job.hours), "") for job in problem.jobs
    }
    for job in problem.jobs:
        for earlier, rest in job.after.items():
            model.add(starts[job.id] >= ends[earlier] + int(rest))
    for resource in problem.resources:
        users = [job for job in problem.jobs if resource in job.needs]
        model.add_cumulative(
            [spells[job.id] for job in users], [job.needs[resource] for job in users], problem.hands(resource)
        )
    for name in {name for job in problem.jobs for name in job.holds}:
        _share(model, [job for job in problem.jobs if name in job.holds], starts)
    return model, ends


def _share(model: cp_model.CpModel, holders: list[Job], starts: dict) -> None:
    """One at a time over their hours and rests that keep the part; nobody before one who has it already."""
    model.add_no_overlap(
        model.new_fixed_size_interval_var(starts[job.id], int(job.hours + job.keeps_hold), "")
        for job in holders
    )
    for holding in (job for job in holders if job.holding):
        for other in holders:
            if other is not holding:
                model.add(starts[other.id] >= int(holding.release))


def _horizon(problem: Problem) -> int:
    return int(
        sum(job.hours + job.keeps_hold + job.release + sum(job.after.values()) for job in problem.jobs)
    )


def _solved(model: cp_model.CpModel) -> int:
    solver = cp_model.CpSolver()
    solver.parameters.num_workers = 1
    assert solver.solve(model) == cp_model.OPTIMAL
    return round(solver.objective_value)
