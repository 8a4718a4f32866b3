"""Is a plan workable? Checked from the problem alone, by other means than those that made the plan."""

from __future__ import annotations

from collections.abc import Hashable, Iterator

from shopflow.compute.schedule.problem import Job
from shopflow.compute.schedule.solution import SLACK, Solution


def broken_rules(plan: Solution) -> Iterator[str]:
    """Each broken rule as a sentence that names the job or the resource."""
    for job in plan.problem.jobs:
        yield from _job_rules(plan, job)
    for resource in plan.problem.resources:
        yield from _hands_rules(plan, resource)
    yield from _parts_rules(plan)


def _job_rules(plan: Solution, job: Job) -> Iterator[str]:
    if job.id not in plan.start or job.id not in plan.finish:
        yield f"{job.id}: not planned"
        return
    if plan.start[job.id] < job.release - SLACK:
        yield f"{job.id}: begins at {plan.start[job.id]:g}, before its release at {job.release:g}"
    yield from _hours_rules(plan, job)
    for earlier, rest in job.after.items():
        ready = plan.finish[earlier] + rest
        if plan.start[job.id] < ready - SLACK:
            yield f"{job.id}: begins at {plan.start[job.id]:g}, but waits for {earlier} until {ready:g}"


def _hours_rules(plan: Solution, job: Job) -> Iterator[str]:
    spells = plan.working(job.id)
    worked = sum(ends - begins for begins, ends in spells)
    if abs(worked - job.hours) > SLACK:
        yield f"{job.id}: {worked:g} working hours planned where {job.hours:g} are needed"
    elif abs(spells[0][0] - plan.start[job.id]) > SLACK or abs(spells[-1][1] - plan.finish[job.id]) > SLACK:
        yield f"{job.id}: begins or ends while nobody can work on it"


def _hands_rules(plan: Solution, resource: str) -> Iterator[str]:
    steps = plan.problem.steps(resource)
    for begins, ends, hands in plan.load(resource):
        if ends - begins <= SLACK:
            continue
        there = min(have for place, (step, have) in enumerate(steps) if _overlap(steps, place, begins, ends))
        if hands > there:
            yield f"{resource}: {hands} hands at work from {begins:g} to {ends:g} where {there} are there"


def _overlap(steps: tuple[tuple[float, int], ...], place: int, begins: float, ends: float) -> bool:
    until = steps[place + 1][0] if place + 1 < len(steps) else float("inf")
    return min(until, ends) - max(steps[place][0], begins) > SLACK


def _parts_rules(plan: Solution) -> Iterator[str]:
    """What is held, one job has at a time: from its begin, or already, until it lets go."""
    holders: dict[Hashable, list[Job]] = {}
    for job in sorted(plan.problem.jobs, key=lambda job: plan.start.get(job.id, 0.0)):
        if job.id in plan.start and job.id in plan.finish:
            for name in job.holds:
                holders.setdefault(name, []).append(job)
    for name, jobs in holders.items():
        yield from _overlaps(plan, name, jobs)


def _overlaps(plan: Solution, name: Hashable, holders: list[Job]) -> Iterator[str]:
    """Holders in order of their begin of which one begins before an earlier one has let go."""
    until = [(job.release, job) for job in holders if job.holding]
    for job in holders:
        begins = plan.start[job.id]
        over, earlier = max(
            ((over, earlier) for over, earlier in until if earlier is not job),
            key=lambda held: held[0],
            default=(begins, job),
        )
        if begins < over - SLACK:
            yield f"{name}: {job.id} has it from {begins:g}, but {earlier.id} holds it until {over:g}"
        until.append((plan.finish[job.id] + job.keeps_hold, job))
