"""The fast ways of making a plan against the exact one, and that against a slow one written another way."""

from __future__ import annotations

from collections.abc import Hashable
from dataclasses import replace

import numpy as np
import pytest

from shopflow.compute.schedule import Job, Problem, ShopHours
from shopflow.compute.schedule.solution import Solution
from tests.benchmarks.workshop import workshop


def slow_plan(problem: Problem, order: list[int]) -> dict:
    """Each job in turn an hour later until it fits: whole hours, no calendar, hands that never change."""
    used: dict[tuple[str, int], int] = {}
    held: set[tuple[Hashable, int]] = set()
    finish: dict = {}
    for place in order:
        job = problem.jobs[place]
        ready = [finish[earlier] + rest for earlier, rest in job.after.items()]
        begin = int(max([job.release, *ready]))
        while any(
            used.get((name, hour), 0) + hands > problem.hands(name)
            for name, hands in job.needs.items()
            for hour in range(begin, begin + int(job.hours))
        ) or any(
            (name, hour) in held
            for name in job.holds
            for hour in range(begin, begin + int(job.hours + job.keeps_hold))
        ):
            begin += 1
        for name, hands in job.needs.items():
            for hour in range(begin, begin + int(job.hours)):
                used[name, hour] = used.get((name, hour), 0) + hands
        held |= {
            (name, begin + hour) for name in job.holds for hour in range(int(job.hours + job.keeps_hold))
        }
        finish[job.id] = begin + int(job.hours)
    return finish


def crowd(seed: int, parts: str = "") -> Problem:
    dice = np.random.default_rng(seed)
    jobs = []
    for number in range(30):
        earlier = (
            {int(dice.integers(0, number)): int(dice.integers(0, 4)) for _ in range(2)} if number else {}
        )
        needs = {name: int(dice.integers(1, 3)) for name in "abc" if dice.random() < 0.5}
        hours, release = int(dice.integers(1, 9)), int(dice.integers(0, 20))
        held = frozenset(name for name in parts if dice.random() < 0.3)
        keeps = int(dice.integers(0, 4)) if parts and dice.random() < 0.5 else 0
        jobs.append(Job(number, hours, needs, earlier, release=release, holds=held, keeps_hold=keeps))
    return Problem(jobs, {"a": 2, "b": 3, "c": 2})


@pytest.mark.parametrize("parts", ["", "xyz"])
@pytest.mark.parametrize("seed", range(8))
def test_the_exact_decoder_plans_as_a_slow_one_does(seed, parts):
    from shopflow.compute.schedule.decoder import plan_of
    from shopflow.compute.schedule.rules import order_by
    from shopflow.compute.schedule.tables import TICKS, tables_of

    problem = crowd(seed, parts)
    tables = tables_of(problem)
    order = order_by(tables, np.random.default_rng(seed).random(30) * 100)
    _, finish = plan_of(tables, order)
    assert (finish / TICKS).tolist() == list(
        {job.id: slow_plan(problem, order.tolist())[job.id] for job in problem.jobs}.values()
    )


@pytest.mark.parametrize("seed", range(8))
def test_the_grid_plans_as_the_exact_decoder_does(seed):
    from shopflow.compute.schedule.decoder import plan_of
    from shopflow.compute.schedule.grid import grid_of
    from shopflow.compute.schedule.pool import PoolSearch
    from shopflow.compute.schedule.tables import TICKS, tables_of

    tables = tables_of(crowd(seed))
    search = PoolSearch(tables, grid_of(tables), seed=seed, budget=300)
    search.carry_on(300)
    _, finish = plan_of(tables, search.order())
    assert finish.max() / TICKS == search.best


def test_steady_hands_are_planned_as_changing_ones_that_happen_not_to_change():
    from shopflow.compute.schedule.decoder import plan_of
    from shopflow.compute.schedule.rules import latest_finishes, order_by
    from shopflow.compute.schedule.tables import tables_of

    steady = workshop(12)
    stepped = {name: [(0, hands), (30_000, hands)] for name, ((_, hands),) in steady.resources.items()}
    steady, changing = tables_of(steady), tables_of(Problem(steady.jobs, stepped, steady.shop_hours))
    ranks = latest_finishes(steady)
    for seed in range(20):
        order = order_by(steady, ranks + np.random.default_rng(seed).normal(0, 300, len(ranks)))
        assert np.array_equal(plan_of(steady, order), plan_of(changing, order))


def shared(problem: Problem, seed: int = 1) -> Problem:
    """The same shop, most of whose jobs hold a part of their instrument, some of them over their rests."""
    dice = np.random.default_rng(seed)
    rest = {earlier: lag for job in problem.jobs for earlier, lag in job.after.items() if lag}
    jobs = [
        replace(
            job,
            holds={(job.group, dice.choice(["body", "body", "keys", "plate"]))},
            keeps_hold=rest.get(job.id, 0.0) * int(dice.integers(0, 2)),
        )
        for job in problem.jobs
    ]
    return Problem(jobs, problem.resources, problem.shop_hours)


def test_a_workshop_of_shared_parts_is_planned_without_an_overlap():
    from shopflow.compute.schedule import solve

    free, held = (
        solve(one, 600, "tardiness", iterations=200) for one in (workshop(12), shared(workshop(12)))
    )
    assert held.violations() == []
    broken = replace(held, start=free.start, finish=free.finish).violations()
    assert any("holds it until" in sentence for sentence in broken)


@pytest.mark.parametrize("problem", [workshop(12), shared(workshop(12))], ids=["free", "shared"])
@pytest.mark.parametrize("by_makespan", [False, True])
def test_planning_only_what_changed_gives_what_planning_everything_gives(by_makespan, problem):
    from shopflow.compute.schedule.annealing import Annealing, replay
    from shopflow.compute.schedule.tables import tables_of
    from shopflow.compute.schedule.trail import trail_for

    tables = tables_of(problem)
    search = Annealing(tables, "makespan" if by_makespan else "tardiness", seed=2, budget=1_500)
    for until in range(100, 1_501, 100):
        search.carry_on(until)
        fresh = replay(
            tables, trail_for(tables, by_makespan), search.standing_order(), 0, np.inf, by_makespan
        )
        assert search.here == pytest.approx(fresh, rel=1e-12)


def test_work_that_pauses_over_two_absences_holds_both_hands_only_while_both_are_there():
    from shopflow.compute.schedule import solve

    both = Job("both", 4, {"bench": 1, "booth": 1})
    bench = Job("bench", 2, {"bench": 1}, release=2)
    hands = {"bench": 1, "booth": [(0, 1), (2, 0), (4, 1)]}
    plan = solve(Problem([both, bench], hands), 600, iterations=50)
    assert plan.violations() == []
    assert plan.makespan == 6
    assert plan.working("both") == [(0, 2), (4, 6)]


def test_the_last_week_of_the_opening_table_repeats():
    hours = ShopHours([(24.0 * day, 24.0 * day + 8.0) for day in range(5)])
    assert hours.opens_at_or_after(4 * 24 + 8) == 168
    assert hours.finish_of(start=0, hours=80) == 168 + 4 * 24 + 8
    assert hours.opens_at_or_after(100 * 168 + 130) == 101 * 168


def test_a_plan_that_was_never_made_by_the_search_can_be_checked_too():
    problem = Problem([Job("a", 2, {"bench": 1})], {"bench": 1}, ShopHours([(0, 8)]))
    assert Solution(problem, {"a": 7.0}, {"a": 9.0}, "makespan", 0).violations() != []
