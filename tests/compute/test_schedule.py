"""Plans: published optima, an exact solver on small problems, and what must hold for every plan."""

from __future__ import annotations

import csv
import itertools
import math
import os
import pickle
import subprocess
import sys
from io import StringIO
from pathlib import Path

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from shopflow.compute.errors import ComputeError
from shopflow.compute.schedule import Job, Problem, ShopHours, solve
from tests.compute.exact import best_makespan, best_tardiness
from tests.compute.psplib import best_known, read_sm

FIVE_DAYS = ShopHours([(24.0 * day, 24.0 * day + 8.0) for day in range(5)])

# H. G. Santos and T. A. M. Toffolo, python-mip documentation, "Resource Constrained Project Scheduling".
# Optimal makespan 21, proved with an exact solver; 14 without resources.
TWELVE = """job,duration,r1,r2,successors
1,3,5,1,4 5
2,2,0,4,9 10
3,5,1,4,8
4,4,1,3,6 7
5,2,3,2,9 10
6,3,3,1,8 9
7,4,2,4,8
8,2,4,0,
9,4,5,2,
10,6,2,5,
"""

# R. Kolisch and A. Sprecher, "PSPLIB - a project scheduling problem library", EJOR 96 (1997), j30_1_1.
# Optimal makespan 43, proved with an exact solver; 38 without resources. Jobs without hours left out.
J30_1_1 = """job,duration,r1,r2,r3,r4,successors
2,8,4,0,0,0,6 11 15
3,4,10,0,0,0,7 8 13
4,6,0,0,0,3,5 9 10
5,3,3,0,0,0,20
6,8,0,0,0,8,30
7,5,4,0,0,0,27
8,9,0,1,0,0,12 19 27
9,2,6,0,0,0,14
10,7,0,0,0,1,16 25
11,9,0,5,0,0,20 26
12,2,0,7,0,0,14
13,6,4,0,0,0,17 18
14,3,0,8,0,0,17
15,9,3,0,0,0,25
16,10,0,0,0,5,21 22
17,6,0,0,0,8,22
18,5,0,0,0,7,20 22
19,3,0,1,0,0,24 29
20,7,0,10,0,0,23 25
21,2,0,0,0,6,28
22,7,2,0,0,0,23
23,2,3,0,0,0,24
24,3,0,9,0,0,30
25,3,4,0,0,0,30
26,7,0,0,4,0,31
27,8,0,0,0,7,28
28,3,0,8,0,0,31
29,7,0,7,0,0,
30,2,0,7,0,0,
31,2,0,0,2,0,
"""


def published(text: str, *capacities: int) -> Problem:
    rows = list(csv.DictReader(StringIO(text)))
    names = [name for name in rows[0] if name.startswith("r")]
    after = {row["job"]: {} for row in rows}
    for row in rows:
        for later in row["successors"].split():
            after[later][row["job"]] = 0
    jobs = [
        Job(
            row["job"],
            int(row["duration"]),
            {r: int(row[r]) for r in names if row[r] != "0"},
            after[row["job"]],
        )
        for row in rows
    ]
    return Problem(jobs, dict(zip(names, capacities, strict=True)))


@pytest.mark.parametrize(
    ("problem", "without_resources", "optimum"),
    [(published(TWELVE, 6, 8), 14, 21), (published(J30_1_1, 12, 13, 4, 12), 38, 43)],
    ids=["twelve", "j30_1_1"],
)
def test_reaches_the_published_optimum(problem, without_resources, optimum):
    plan = solve(problem, 600, iterations=20_000)
    assert plan.violations() == []
    assert plan.makespan == optimum
    assert without_resources <= plan.lower_bound <= optimum


# ---- small random problems against an exact solver


@st.composite
def small_problems(draw, holds=None):
    count = draw(st.integers(2, 7))
    jobs = []
    for number in range(count):
        earlier = draw(st.sets(st.integers(0, number - 1), max_size=2)) if number else set()
        jobs.append(
            Job(
                number,
                draw(st.integers(1, 6)),
                draw(st.dictionaries(st.sampled_from("ab"), st.integers(1, 2), max_size=2)),
                {before: draw(st.sampled_from([0, 0, 1, 3])) for before in earlier},
                release=draw(st.sampled_from([0, 0, 0, 2, 5])),
                due=draw(st.one_of(st.none(), st.integers(1, 12))),
                weight=draw(st.sampled_from([1, 2, 4])),
                **(holds(draw, number) if holds else {}),
            )
        )
    return Problem(jobs, {"a": 2, "b": 3})


@settings(max_examples=40, deadline=None)
@given(small_problems())
def test_small_plans_are_as_short_as_the_exact_solver_proves(problem):
    plan = solve(problem, 600, iterations=4_000)
    best = best_makespan(problem)
    assert plan.violations() == []
    assert plan.makespan == best
    assert plan.lower_bound <= best + 1e-9


@settings(max_examples=40, deadline=None)
@given(small_problems())
def test_small_plans_are_as_punctual_as_the_exact_solver_proves(problem):
    plan = solve(problem, 600, "tardiness", iterations=4_000)
    best = best_tardiness(problem)
    assert plan.violations() == []
    assert plan.tardiness == best
    assert plan.lower_bound <= best + 1e-9


# ---- what must hold for every plan


@st.composite
def shops(draw):
    """Any shop: odd hours, rests, closed days, hands that come and go, work under way."""
    count = draw(st.integers(1, 12))
    hours = st.floats(0.01, 30, allow_nan=False)
    steps = {
        "a": [(0.0, draw(st.integers(0, 3))), (draw(st.floats(1, 60)), draw(st.integers(0, 3))), (90.0, 2)],
        "b": draw(st.integers(1, 3)),
    }
    jobs = []
    for number in range(count):
        earlier = draw(st.sets(st.integers(0, number - 1), max_size=2)) if number else set()
        needs = {"a": draw(st.integers(1, 2))} if draw(st.booleans()) else {"b": 1}
        if draw(st.integers(0, 3)) == 0:
            needs = {"a": 1, "b": 1}
        rests = {before: draw(st.sampled_from([0.0, 0.0, 12.0, 24.0, 70.5])) for before in earlier}
        release, due = draw(st.floats(0, 100)), draw(st.one_of(st.none(), st.floats(0, 200)))
        group, under_way = draw(st.sampled_from(["x", "y", None])), not earlier and draw(st.booleans())
        parts = draw(st.frozensets(st.sampled_from(["body", "keys", "plate"]), max_size=2))
        keeps = draw(st.sampled_from([0.0, 12.0, 24.0, 50.0]))
        holding = number == 0 and not under_way and draw(st.booleans())
        jobs.append(
            Job(number, draw(hours), needs, rests, release, due, 1.0, group, under_way, parts, keeps, holding)
        )
    return Problem(jobs, steps, draw(st.sampled_from([None, FIVE_DAYS])))


@settings(max_examples=60, deadline=None)
@given(shops(), st.sampled_from(["makespan", "tardiness"]))
def test_every_plan_keeps_every_rule(problem, objective):
    plan = solve(problem, 600, objective, iterations=200)
    assert plan.violations() == []
    assert plan.lower_bound <= plan.value + 1e-4
    assert 0 <= plan.gap <= 1
    for resource in problem.resources:
        for begins, ends, hands in plan.load(resource):
            middle = (begins + ends) / 2
            assert hands <= problem.hands(resource, middle) or ends - begins < 1e-4
    for one, other in itertools.combinations(problem.jobs, 2):
        if one.holds & other.holds:
            first, second = sorted((one, other), key=lambda job: plan.start[job.id])
            assert plan.start[second.id] >= plan.finish[first.id] + first.keeps_hold - 1e-5
            held = max((job.release for job in (one, other) if job.holding), default=0.0)
            assert plan.start[first.id] >= held - 1e-5


def test_nobody_works_on_a_closed_day():
    jobs = [Job(number, 13, {"bench": 1}) for number in range(5)]
    plan = solve(Problem(jobs, {"bench": 1}, FIVE_DAYS), 600, iterations=200)
    for begins, ends, _ in plan.load("bench"):
        assert begins % 24 < 8
        assert begins // 24 % 7 < 5
        assert ends <= begins // 24 * 24 + 8


def test_a_rest_passes_by_the_clock_and_over_the_weekend():
    # Glued on Friday until closing, 20 h of rest: dry on Saturday, so the next hands come on Monday.
    glue = Job("glue", 4, {"bench": 1}, release=4 * 24 + 4)
    plane = Job("plane", 1, {"bench": 1}, after={"glue": 20})
    plan = solve(Problem([glue, plane], {"bench": 1}, FIVE_DAYS), 600, iterations=10)
    assert plan.finish["glue"] == 4 * 24 + 8
    assert plan.start["plane"] == 7 * 24


def test_hands_that_come_and_go_are_counted_as_they_are_there():
    jobs = [Job(number, 4, {"bench": 1}) for number in range(3)]
    plan = solve(Problem(jobs, {"bench": [(0, 2), (4, 0), (10, 1)]}), 60, iterations=50)
    assert sorted(plan.start.values()) == [0, 0, 10]
    assert plan.load("bench") == [(0, 4, 2), (10, 14, 1)]


def test_a_job_pauses_while_all_its_hands_are_away():
    plan = solve(
        Problem([Job("long", 6, {"bench": 1})], {"bench": [(0, 1), (4, 0), (10, 1)]}), 60, iterations=1
    )
    assert plan.finish["long"] == 12
    assert plan.working("long") == [(0, 4), (10, 12)]


def test_work_under_way_keeps_its_hands():
    begun = Job("begun", 9, {"bench": 1}, due=500, under_way=True)
    urgent = Job("urgent", 1, {"bench": 1}, due=1, weight=9)
    assert solve(Problem([urgent, begun], {"bench": 1}), 600, "tardiness", iterations=500).start["begun"] == 0


def test_tardiness_is_weighted_hours_after_the_due_date():
    jobs = [Job("a", 4, {"bench": 1}, due=4, weight=1), Job("b", 3, {"bench": 1}, due=3, weight=2)]
    plan = solve(Problem(jobs, {"bench": 1}), 600, "tardiness", iterations=100)
    assert plan.tardiness == 3  # b first; the other way round it would be 2 x 4
    assert plan.lateness("a") == 3


# ---- the search


@pytest.fixture(scope="module")
def crowded() -> Problem:
    jobs = [
        Job(
            (piano, task),
            3 + (piano * 7 + task * 5) % 9,
            {"abc"[(piano + task) % 3]: 1},
            {(piano, task - 1): 24.0 * (task % 2)} if task else {},
            due=40 + piano * 11 if task == 5 else None,
            weight=1 + piano % 3,
            group=piano,
        )
        for piano in range(10)
        for task in range(6)
    ]
    return Problem(jobs, {"a": 1, "b": 1, "c": 2}, FIVE_DAYS)


@pytest.mark.parametrize("objective", ["makespan", "tardiness"])
def test_the_same_seed_gives_the_same_plan(crowded, objective):
    first, second, other = (solve(crowded, 600, objective, seed, iterations=2_000) for seed in (5, 5, 6))
    assert first.complete
    assert first == second
    assert first.start != other.start


def test_searching_longer_never_harms_and_here_helps(crowded):
    none, some = (solve(crowded, 600, "tardiness", iterations=tries) for tries in (0, 4_000))
    assert some.tardiness < 0.9 * none.tardiness


def test_the_heat_of_the_search_changes_its_result(crowded):
    from shopflow.compute.schedule.annealing import Annealing
    from shopflow.compute.schedule.tables import tables_of

    tables = tables_of(crowded)
    energies = []
    for heat in (1e-6, 1.0, 1e6):
        search = Annealing(tables, "tardiness", seed=1, budget=2_000, heat=heat)
        search.carry_on(2_000)
        energies.append(search.here)
    cold, warm, hot = energies
    assert warm < hot
    assert cold != warm


def test_a_search_carried_on_in_steps_ends_where_one_in_one_go_ends(crowded):
    from shopflow.compute.schedule.annealing import Annealing
    from shopflow.compute.schedule.tables import tables_of

    tables = tables_of(crowded)
    whole, steps = (Annealing(tables, "tardiness", seed=3, budget=500) for _ in range(2))
    whole.carry_on(500)
    for until in range(1, 501):
        steps.carry_on(until)
    assert whole.order().tolist() == steps.order().tolist()
    assert whole.here == steps.here


def test_the_caller_can_stop_the_search(crowded):
    seen = []
    plan = solve(
        crowded,
        60,
        "tardiness",
        on_progress=lambda best, tries: seen.append((best, tries)) or len(seen) < 3,
        iterations=50_000,
    )
    assert len(seen) == 3
    assert not plan.complete
    assert plan.violations() == []
    assert [best for best, _ in seen] == sorted((best for best, _ in seen), reverse=True)


def test_time_that_runs_out_still_leaves_a_plan(crowded):
    plan = solve(crowded, 0.0, "tardiness")
    assert plan.violations() == []
    assert not plan.complete


# ---- nonsense at the door


@pytest.mark.parametrize("hours", [0, -3, math.nan, math.inf, None, "4", True])
def test_hours_must_make_sense(hours):
    with pytest.raises(ComputeError, match="hours of job 'a'"):
        Job("a", hours)


@pytest.mark.parametrize(
    ("given", "words"),
    [
        ({"needs": {"bench": 0}}, "hands of 'bench' for job 'a'"),
        ({"needs": {"bench": 1.5}}, "hands of 'bench' for job 'a'"),
        ({"after": {"b": -1}}, "rest after 'b' of job 'a'"),
        ({"release": math.nan}, "release of job 'a'"),
        ({"due": math.inf}, "due of job 'a'"),
        ({"weight": -1}, "weight of job 'a'"),
        ({"keeps_hold": -1}, "keeps_hold of job 'a'"),
        ({"keeps_hold": math.inf}, "keeps_hold of job 'a'"),
        ({"holds": "body"}, "holds of job 'a'"),
    ],
)
def test_a_job_names_the_field_that_makes_no_sense(given, words):
    with pytest.raises(ComputeError, match=words):
        Job("a", 1, **given)


@pytest.mark.parametrize(
    ("jobs", "resources", "words"),
    [
        ([Job("a", 1), Job("a", 2)], {}, "one job of each id"),
        ([Job("a", 1, {"kiln": 1})], {"bench": 1}, "needs of job 'a'.*kiln"),
        ([Job("a", 1, {"bench": 3})], {"bench": 2}, "needs of job 'a'.*3 of 'bench'.*the 2"),
        ([Job("a", 1, {"bench": 3})], {"bench": [(0, 3), (40, 2)]}, "needs of job 'a'.*3 of 'bench'"),
        ([Job("a", 1, after={"ghost": 0})], {}, "after of job 'a'.*ghost"),
        ([Job("a", 1)], {"bench": -1}, "hands of resource 'bench'"),
        ([Job("a", 1)], {"bench": [(1, 2)]}, "begin at hour 0"),
        ([Job("a", 1)], {"bench": [(0, 2), (0, 3)]}, "go forward"),
        ([Job("b", 1), Job("a", 1, after={"b": 0}, under_way=True)], {}, "under_way of job 'a'"),
        (
            [Job("b", 1), Job("a", 1, after={"b": 0}, holds={"body"}, holding=True)],
            {},
            "holding of job 'a'",
        ),
    ],
)
def test_a_problem_that_cannot_be_planned_is_refused(jobs, resources, words):
    with pytest.raises(ComputeError, match=words):
        Problem(jobs, resources)


def test_a_circle_is_named_by_its_jobs():
    ring = [
        Job("strip", 1, after={"string": 0}),
        Job("plate", 1, after={"strip": 0}),
        Job("string", 1, after={"plate": 0}),
        Job("tune", 1, after={"string": 0}),
    ]
    with pytest.raises(ComputeError) as refused:
        Problem(ring, {})
    assert all(name in str(refused.value) for name in ("strip", "plate", "string"))
    assert "tune" not in str(refused.value)


@pytest.mark.parametrize(
    "wish", [{"objective": "cost"}, {"seconds": -1}, {"seconds": math.nan}, {"seed": 0.5}]
)
def test_senseless_wishes_are_refused(wish):
    with pytest.raises(ComputeError, match=next(iter(wish))):
        solve(Problem([Job("a", 1)], {}), **wish)


def test_no_jobs_make_an_empty_plan():
    plan = solve(Problem([], {"bench": 1}))
    assert (plan.makespan, plan.tardiness, plan.gap, plan.violations()) == (0, 0, 0, [])


def test_a_plan_can_be_sent_to_another_process():
    plan = solve(Problem([Job("a", 1, {"bench": 1})], {"bench": 1}, FIVE_DAYS), iterations=1)
    assert pickle.loads(pickle.dumps(plan)) == plan


def test_nothing_is_compiled_until_a_plan_is_asked_for():
    code = "import sys, shopflow.compute.schedule, shopflow.compute.forecast; print('numba' in sys.modules)"
    answer = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=True)
    assert answer.stdout.strip() == "False"


# ---- the checker is itself checked


@pytest.mark.parametrize(
    ("times", "words"),
    [
        ({"a": (0, 4), "b": (2, 5), "c": (8, 9)}, "hands at work"),
        ({"a": (0, 4), "b": (4, 7), "c": (6, 7)}, "waits for a"),
        ({"a": (0, 4), "b": (4, 6), "c": (8, 9)}, "working hours planned"),
        ({"a": (0, 4), "b": (4, 7), "c": (8, 9), "late": 1}, "before its release"),
        ({"a": (0, 4), "b": (4, 7), "c": (9, 10)}, "body: c has it from 9, but b holds it until 9.5"),
    ],
)
def test_violations_are_found_and_named(times, words):
    from shopflow.compute.schedule import Solution

    release = 3 if times.pop("late", 0) else 0
    jobs = [
        Job("a", 4, {"bench": 1}, release=release),
        Job("b", 3, {"bench": 1}, holds={"body"}, keeps_hold=2.5),
        Job("c", 1, after={"a": 3}, holds={"body", "keys"}),
    ]
    start = {job: begins for job, (begins, _) in times.items()}
    finish = {job: ends for job, (_, ends) in times.items()}
    broken = Solution(Problem(jobs, {"bench": 1}), start, finish, "makespan", 0).violations()
    assert any(words in sentence for sentence in broken)


# ---- a sample of the public instances, where they are at hand

PSPLIB = Path(os.environ.get("PSPLIB", Path(__file__).parents[2].parent / "shared" / "data" / "psplib"))


@pytest.mark.skipif(
    not PSPLIB.is_dir(), reason="the PSPLIB instances are not at hand (set PSPLIB to their folder)"
)
@pytest.mark.parametrize("name", ["j30/j301_1.sm", "j30/j309_7.sm", "j30/j3013_1.sm", "j30/j3041_5.sm"])
def test_public_instances_are_planned_as_short_as_is_known(name):
    files = best_known(PSPLIB)
    name = name if name in files else next(iter(files))
    plan = solve(read_sm(PSPLIB / name), 600, iterations=40_000)
    assert plan.violations() == []
    assert plan.makespan == files[name].best
    assert plan.lower_bound <= files[name].best
