"""Parts that one job has at a time: by hand, and against an exact solver."""

from __future__ import annotations

from dataclasses import replace

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from shopflow.compute.schedule import Job, Problem, ShopHours, solve
from tests.benchmarks.workshop import HANDS, workshop
from tests.compute.exact import best_makespan, best_tardiness
from tests.compute.test_schedule import small_problems

FIVE_DAYS = ShopHours([(24.0 * day, 24.0 * day + 8.0) for day in range(5)])

BENCHES = {"soundboard": 1, "finish": 2}


def glued(**parts) -> list[Job]:
    """Glued under clamps for 30 hours and then planed; something else is done in another department."""
    return [
        Job("glue", 4, {"soundboard": 1}, **parts),
        Job("plane", 1, {"soundboard": 1}, after={"glue": 30}),
        Job("sand", 2, {"finish": 1}, release=2, holds={"body"}),
        Job("keys", 2, {"finish": 1}, release=2, holds={"keys"}),
    ]


@pytest.mark.parametrize("objective", ["makespan", "tardiness"])
def test_a_rest_that_keeps_the_part_keeps_it_from_the_others(objective):
    plan = solve(Problem(glued(holds={"body"}, keeps_hold=30), BENCHES), 60, objective, iterations=0)
    assert plan.start == {"glue": 0, "plane": 34, "sand": 34, "keys": 2}


def test_a_rest_that_does_not_keep_it_gives_the_part_to_the_others():
    plan = solve(Problem(glued(holds={"body"}), BENCHES), 60, iterations=0)
    assert plan.start == {"glue": 0, "plane": 34, "sand": 4, "keys": 2}


def test_a_part_that_is_under_clamps_already_is_waited_for():
    _, plane, sand, keys = glued()
    plane = replace(plane, after={}, release=20, holds={"body"}, holding=True)
    plan = solve(Problem([plane, sand, keys], BENCHES), 60, iterations=0)
    assert plan.start == {"plane": 20, "sand": 21, "keys": 2}
    assert plan.violations() == []
    early = replace(plan, start=plan.start | {"sand": 3}, finish=plan.finish | {"sand": 5})
    assert early.violations() == ["body: sand has it from 3, but plane holds it until 20"]


def test_a_gap_that_is_too_short_for_the_rest_is_not_used():
    """Hands are free from 2 to 10, but what is glued then is still under clamps when the body is promised."""
    first = Job("first", 2, {"a": 1}, holds={"body"}, due=2)
    urgent = Job("urgent", 2, {"b": 1}, holds={"body"}, release=10, due=12)
    clamped = Job("clamped", 3, {"a": 1}, holds={"body"}, keeps_hold=6, due=900)
    plan = solve(Problem([first, urgent, clamped], {"a": 1, "b": 1}), 60, "tardiness", iterations=0)
    assert plan.start == {"first": 0, "urgent": 10, "clamped": 12}
    short = replace(clamped, keeps_hold=5)
    plan = solve(Problem([first, urgent, short], {"a": 1, "b": 1}), 60, "tardiness", iterations=0)
    assert plan.start == {"first": 0, "urgent": 10, "clamped": 2}


def test_a_part_is_held_over_the_nights_and_the_pauses_of_its_work():
    long, short = Job("long", 10, {"a": 1}, holds={"body"}, due=1), Job("short", 1, {"b": 1}, holds={"body"})
    hands = {"a": [(0, 1), (4, 0), (48, 1)], "b": 1}
    plan = solve(Problem([long, short], hands, FIVE_DAYS), 60, "tardiness", iterations=0)
    assert (plan.finish["long"], plan.start["short"]) == (54, 54)


def test_parts_change_nothing_where_nobody_shares_them():
    shop = workshop(6)
    alone = Problem([replace(job, holds={job.id}) for job in shop.jobs], HANDS, shop.shop_hours)
    plain, held = (solve(one, 600, "tardiness", 3, iterations=500) for one in (shop, alone))
    assert plain.start == held.start


def holds(draw, number: int) -> dict:
    """What a job may hold: one or two of three parts, at times over a rest, and the first has it already."""
    parts = draw(st.sampled_from(["", "", "b", "b", "k", "bk", "l"]))
    keeps = draw(st.sampled_from([0, 0, 0, 1, 3])) if parts else 0
    return {"holds": frozenset(parts), "keeps_hold": keeps, "holding": bool(parts) and number == 0}


@settings(max_examples=60, deadline=None)
@given(small_problems(holds))
def test_small_plans_of_held_parts_are_as_short_as_the_exact_solver_proves(problem):
    plan = solve(problem, 600, iterations=4_000)
    best = best_makespan(problem)
    assert plan.violations() == []
    assert plan.makespan == best
    assert plan.lower_bound <= best + 1e-9


@settings(max_examples=60, deadline=None)
@given(small_problems(holds))
def test_small_plans_of_held_parts_are_as_punctual_as_the_exact_solver_proves(problem):
    plan = solve(problem, 600, "tardiness", iterations=4_000)
    best = best_tardiness(problem)
    assert plan.violations() == []
    assert plan.tardiness == best
    assert plan.lower_bound <= best + 1e-9
