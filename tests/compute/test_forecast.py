"""Forecasts: against an event library, against what is known by hand; the year against tables."""

from __future__ import annotations

import itertools
import math
from dataclasses import replace

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from shopflow.compute.chances import Chances, Dice, Stop
from shopflow.compute.errors import ComputeError
from shopflow.compute.forecast import simulate, year
from shopflow.compute.schedule import Job, Problem, ShopHours, Solution, solve
from tests.compute.shop_by_events import run_by_events

FIVE_DAYS = ShopHours([(24.0 * day, 24.0 * day + 8.0) for day in range(5)])


def small_shop(pianos: int = 8, hours: ShopHours | None = FIVE_DAYS) -> Problem:
    jobs = [
        Job(
            (piano, task),
            hours=4 + (piano * 5 + task * 3) % 11,
            needs={"abc"[(piano + task) % 3]: 1},
            after={(piano, task - 1): 24.0 * (task % 2)} if task else {},
            release=10.0 * (piano % 3),
            due=150 + 20 * piano if task == 4 else None,
            group=piano,
        )
        for piano in range(pianos)
        for task in range(5)
    ]
    return Problem(jobs, {"a": 1, "b": 2, "c": 1}, hours)


# ---- the shop that runs by itself


def with_scarce_things(hours: ShopHours | None) -> Problem:
    """Some of the work also needs the booth or two hands at once, and some needs nobody."""
    plain = small_shop(hours=hours)
    jobs = [
        replace(
            job,
            needs={}
            if number % 11 == 5
            else {name: 2 if name == "b" and number % 3 == 0 else 1 for name in job.needs}
            | ({"booth": 1} if number % 4 == 1 else {}),
        )
        for number, job in enumerate(plain.jobs)
    ]
    return Problem(jobs, {"a": 1, "b": 3, "c": 1, "booth": 1}, hours)


def with_part_time(hours: ShopHours | None) -> Problem:
    """Hands come and go, at times none are there, and the hand of c leaves in the middle of its work."""
    scarce = with_scarce_things(hours)
    steps = {
        "a": [(0, 0), (3, 1), (26, 2), (31, 1)],
        "b": [(0, 3), (5, 1), (52, 0), (73, 2), (90, 3)],
        "c": [(0, 1), (4, 0), (27, 1), (29.5, 0), (50, 1), (54, 2)],
    }
    return Problem(scarce.jobs, {**scarce.resources, **steps}, hours)


def with_parts(hours: ShopHours | None) -> Problem:
    """Body and keys of each piano are wanted by several of its jobs, some of which keep them over rests."""
    crowd = with_part_time(hours)
    loose = [
        Job(
            (piano, "loose", number),
            3 + number,
            {"abc"[number]: 1},
            group=piano,
            holds={(piano, "body"), (piano, "keys")} if number == 1 else {(piano, "body")},
            release=7.0 * number,
            holding=number == 2 and piano % 2 == 0,
        )
        for piano in range(8)
        for number in range(3)
    ]
    jobs = [
        replace(
            job,
            holds={(job.group, "keys" if number % 4 == 2 else "body")},
            keeps_hold=24.0 if number % 5 in (0, 2) else 0.0,
        )
        for number, job in enumerate(crowd.jobs)
    ]
    return Problem([*jobs, *loose], crowd.resources, hours)


WIDE = Chances(
    0.35,
    rests={(piano, task): (0.5, 1.0, 2.5) for piano in range(8) for task in range(4)},
    stops={(piano, task): Stop(0.4, (5, 60, 200)) for piano in range(8) for task in (0, 2, 3)},
)


@pytest.mark.parametrize("hours", [None, FIVE_DAYS])
@pytest.mark.parametrize(
    "shop", [lambda hours: small_shop(hours=hours), with_scarce_things, with_part_time, with_parts]
)
@pytest.mark.parametrize("chances", [Chances(0.35), WIDE])
def test_every_run_equals_the_same_run_of_an_event_library(shop, hours, chances):
    from shopflow.compute.schedule.dispatch import run_many, shop_for
    from shopflow.compute.schedule.rules import latest_finishes, order_by
    from shopflow.compute.schedule.tables import tables_of

    problem = shop(hours)
    tables = tables_of(problem)
    order = order_by(tables, latest_finishes(tables))
    throws, dice = Dice(problem, tables, chances), np.random.default_rng(4)
    drawn, rests, stops = throws.hours(20, dice), throws.rests(20, dice), throws.stops(20, dice)
    ours = np.zeros(drawn.shape)
    run_many(tables, shop_for(tables, order), drawn, rests, stops, ours)
    for run, finish in enumerate(ours):
        as_drawn = {
            "hours": drawn[run] / 1e6,
            "rests": by_pair(problem, tables, rests[run % len(rests)] / 1e6),
            "stops": stops[run % len(stops)] / 1e6,
        }
        assert finish == pytest.approx(run_by_events(problem, order=order.tolist(), **as_drawn), abs=1e-4)


def test_no_run_has_two_jobs_on_one_part():
    """A run worked off is a plan like any other, so the plan's own checker can look at it."""
    from shopflow.compute.schedule.dispatch import run_many, shop_for
    from shopflow.compute.schedule.rules import latest_finishes, order_by
    from shopflow.compute.schedule.tables import tables_of

    crowd = with_parts(None)
    problem = Problem(crowd.jobs, dict.fromkeys(crowd.resources, 3))
    tables = tables_of(problem)
    shop = shop_for(tables, order_by(tables, latest_finishes(tables)))
    throws, dice = Dice(problem, tables, Chances(0.35)), np.random.default_rng(4)
    drawn = throws.hours(40, dice)
    finish, no_stops = np.zeros(drawn.shape), np.zeros((1, len(problem.jobs)), dtype=np.int64)
    run_many(tables, shop, drawn, tables.succ_rest[None, :], no_stops, finish)
    names = [job.id for job in problem.jobs]
    for run, ends in enumerate(finish):
        done = dict(zip(names, ends.tolist(), strict=True))
        begun = {name: done[name] - drawn[run, place] / 1e6 for place, name in enumerate(names)}
        told = Solution(problem, begun, done, "makespan", 0).violations()
        assert [sentence for sentence in told if "holds it until" in sentence] == []


def test_the_most_urgent_gets_the_part_whichever_bench_it_is_on():
    jobs = [
        Job(bench, 4, {bench: 1}, due=due, holds={"body"}) for bench, due in (("a", 20), ("b", 10), ("c", 30))
    ]
    told = simulate(Problem(jobs, {"a": 1, "b": 1, "c": 1}), 0.0, 2)
    assert {name: told.jobs[name][0.5] for name in "abc"} == {"b": 4, "a": 8, "c": 12}


def test_a_part_is_kept_as_long_as_the_rest_lasts_that_keeps_it():
    glue = Job("glue", 1, {"a": 1}, due=5, holds={"body"}, keeps_hold=40)
    plane = Job("plane", 1, {"a": 1}, {"glue": 40})
    other = Job("other", 1, {"b": 1}, due=500, holds={"body"}, group="other")
    shop = Problem([glue, plane, other], {"a": 1, "b": 1})
    told = simulate(shop, 0.0, 2_000, 3, rests={"glue": (0.5, 1.0, 2.0)})
    assert set(told.samples["other"].tolist()) == {1 + 20 + 1, 1 + 40 + 1, 1 + 80 + 1}


def by_pair(problem: Problem, tables, rests) -> dict:
    """Rests by (the job before, the job after)."""
    names = [job.id for job in problem.jobs]
    return {
        (names[before], names[tables.succ[arc]]): rests[arc]
        for before in range(len(names))
        for arc in range(tables.succ_ptr[before], tables.succ_ptr[before + 1])
    }


def test_hands_that_no_job_needs_come_and_go_without_harm():
    problem = small_shop()
    idle = {"plating": [(0, 1), (30, 0), (50, 2)], "stringing": 3}
    wider = Problem(problem.jobs, {**problem.resources, **idle}, FIVE_DAYS)
    assert simulate(wider, 0.35, 50, 3).jobs == simulate(problem, 0.35, 50, 3).jobs


def test_a_rack_of_many_words_hands_out_in_order_of_urgency():
    # 200 jobs on one rack, one pair of hands: they come out as urgent as they are due.
    jobs = [Job(number, 1, {"bench": 1}, due=1000 - number) for number in range(200)]
    told = simulate(Problem(jobs, {"bench": 1}), 0.0, 2)
    assert [told.jobs[number][0.5] for number in range(200)] == list(range(200, 0, -1))


def test_without_spread_every_run_is_the_plan_worked_off():
    problem = small_shop()
    told = simulate(problem, 0.0, 5, plan=solve(problem, 600, "tardiness", iterations=500))
    for quantiles in told.jobs.values():
        assert len(set(quantiles.values())) == 1


def test_hands_do_not_wait_for_a_piece_that_is_drying_while_other_work_is_ready():
    # Most urgent: glue, dry, plane. While it dries the bench takes the sanding, although that is less urgent.
    glue = Job("glue", 2, {"bench": 1}, due=10)
    plane = Job("plane", 2, {"bench": 1}, after={"glue": 6}, due=10)
    sand = Job("sand", 3, {"bench": 1}, due=500)
    told = simulate(Problem([glue, plane, sand], {"bench": 1}), 0.0, 1)
    assert (told.jobs["sand"][0.5], told.jobs["plane"][0.5]) == (5, 10)


def test_the_mean_of_one_job_is_its_estimate_and_its_spread_is_the_one_given():
    job = Job("long", 100, {"bench": 1}, group="grand")
    told = simulate(Problem([job], {"bench": 1}), 0.35, 20_000, seed=7)
    hours = told.samples["grand"]
    assert hours.mean() == pytest.approx(100, rel=0.01)
    assert hours.std() / hours.mean() == pytest.approx(0.35, rel=0.03)
    # A lognormal's median, exactly: mean / sqrt(1 + cv^2).
    assert told.groups["grand"][0.5] == pytest.approx(100 / math.sqrt(1 + 0.35**2), rel=0.01)


def test_what_jobs_of_an_instrument_share_widens_its_range():
    jobs = [Job(task, 20, {"bench": 1}, {task - 1: 0} if task else {}, group="grand") for task in range(10)]
    alone, alike = (
        simulate(Problem(jobs, {"bench": 1}), 0.35, 4_000, 3, shared=shared).groups["grand"]
        for shared in (0.0, 0.9)
    )
    assert alike[0.9] - alike[0.1] > 2 * (alone[0.9] - alone[0.1])


def test_the_same_seed_gives_the_same_forecast_and_another_gives_another():
    first, second, other = (simulate(small_shop(), 0.35, 130, seed) for seed in (1, 1, 2))
    assert (first.jobs, first.on_time) == (second.jobs, second.on_time)
    assert first.jobs != other.jobs


def test_rests_last_as_long_as_told_and_each_length_is_as_likely_as_the_others():
    jobs = [Job("glue", 1, {"bench": 1}), Job("plane", 1, {"bench": 1}, {"glue": 40}, group="top")]
    told = simulate(Problem(jobs, {"bench": 1}), 0.0, 20_000, 3, rests={"glue": (0.5, 1.0, 2.0, 2.0)})
    rests = told.samples["top"] - 2
    assert set(rests.tolist()) == {20, 40, 80}
    assert (rests == 80).mean() == pytest.approx(0.5, abs=0.015)
    assert rests.mean() == pytest.approx(55, rel=0.01)


def test_work_beside_takes_hands_but_is_not_told_of():
    asked = Problem([Job("string", 4, {"bench": 1}, due=60, group="grand")], {"bench": 1})
    urgent, later = (Job(f"beside {due}", 5, {"bench": 1}, due=due) for due in (20, 900))
    alone, before, after = (simulate(asked, 0.0, 1, beside=row) for row in ((), [urgent], [later]))
    assert [told.groups["grand"][0.5] for told in (alone, before, after)] == [4, 9, 4]
    assert set(before.jobs) == {"string"}


def test_work_beside_a_plan_goes_between_what_is_due_before_and_after_it():
    jobs = [Job(name, 4, {"bench": 1}, due=due) for name, due in (("first", 100), ("second", 200))]
    asked = Problem(jobs, {"bench": 1})
    plan = solve(asked, 1, "tardiness", iterations=0)
    between = [Job("between", 4, {"bench": 1}, due=150)]
    told = simulate(asked, 0.0, 1, plan=plan, beside=between)
    assert (told.jobs["first"][0.5], told.jobs["second"][0.5]) == (4, 12)


def test_what_the_plan_gives_up_takes_no_hands_from_what_can_be_in_time():
    # By the due days alone the one that is lost anyhow goes first, and the other is late as well.
    lost, light = (
        Job("lost", 10, {"bench": 1}, due=1, weight=1),
        Job("saved", 4, {"bench": 1}, due=5, weight=9),
    )
    asked = Problem([lost, light], {"bench": 1})
    plan = solve(asked, 1, "tardiness", iterations=200)
    assert plan.finish == {"saved": 4, "lost": 14}
    alone, planned = simulate(asked, 0.0, 1), simulate(asked, 0.0, 1, plan=plan)
    assert (alone.on_time["saved"], planned.on_time["saved"]) == (0.0, 1.0)


def test_a_stop_comes_as_often_and_lasts_as_long_as_told():
    job = Job("veneer", 2, {"bench": 1}, group="case")
    stops = {"veneer": Stop(0.25, (10, 30))}
    told = simulate(Problem([job], {"bench": 1}), 0.0, 20_000, 3, stops=stops)
    lasted = told.samples["case"] - 2
    assert set(lasted.tolist()) == {0, 10, 30}
    assert (lasted > 0).mean() == pytest.approx(0.25, abs=0.01)
    assert lasted[lasted > 0].mean() == pytest.approx(20, abs=0.5)


def test_hands_do_other_work_while_a_job_is_stopped():
    jobs = [Job("first", 2, {"bench": 1}, due=5), Job("other", 4, {"bench": 1}, due=50)]
    told = simulate(Problem(jobs, {"bench": 1}), 0.0, 1, stops={"first": Stop(1, (3,))})
    assert (told.jobs["other"][0.5], told.jobs["first"][0.5]) == (4, 6)


@settings(max_examples=20, deadline=None)
@given(st.floats(0, 1.5), st.integers(0, 9))
def test_quantiles_rise_and_shares_are_shares(spread, seed):
    told = simulate(small_shop(4), spread, 40, seed)
    for quantiles in itertools.chain(told.jobs.values(), told.groups.values()):
        assert list(quantiles.values()) == sorted(quantiles.values())
    assert all(
        0 <= share <= 1 for share in itertools.chain(told.on_time.values(), told.groups_on_time.values())
    )
    for group, share in told.groups_on_time.items():
        assert share == told.on_time[group, 4]


@settings(max_examples=20, deadline=None)
@given(st.integers(0, 9))
def test_nothing_ends_while_the_shop_is_closed(seed):
    told = simulate(small_shop(4), 0.35, 20, seed)
    for finish in np.concatenate(list(told.samples.values())):
        assert finish % 24 <= 8 + 1e-5
        assert finish // 24 % 7 < 5


def test_more_hands_are_never_promised_than_come():
    jobs = [Job(number, 4, {"bench": 1}) for number in range(3)]
    told = simulate(Problem(jobs, {"bench": [(0, 2), (4, 0), (10, 1)]}), 0.0, 1)
    assert sorted(quantiles[0.5] for quantiles in told.jobs.values()) == [4, 4, 14]


@pytest.mark.parametrize(
    ("wish", "field"),
    [
        ({"spread": -0.1}, "spread"),
        ({"spread": math.nan}, "spread"),
        ({"spread": {}}, "spread"),
        ({"replications": 0}, "replications"),
        ({"shared": 1.1}, "shared"),
        ({"rests": {(0, 0): ()}}, "shares of a rest"),
        ({"rests": {(0, 0): (0.5, math.inf)}}, "shares of a rest"),
        ({"rests": {"nobody": (0.5, 2)}}, "rests"),
        ({"stops": {"nobody": Stop(1, (2,))}}, "stops"),
        ({"quantiles": (2,)}, "quantiles"),
    ],
)
def test_senseless_wishes_are_refused(wish, field):
    with pytest.raises(ComputeError, match=field):
        simulate(small_shop(1), **{"spread": 0.3, "replications": 1, "seed": 0} | wish)


@pytest.mark.parametrize(("odds", "hours"), [(-0.1, (1,)), (math.nan, (1,)), (0.5, ()), (0.5, (math.inf,))])
def test_a_senseless_stop_is_refused(odds, hours):
    with pytest.raises(ComputeError, match="of a stop"):
        Stop(odds, hours)


# ---- the year


def test_the_floor_is_counted_run_by_run():
    outlook = year(10, {"grand": [100, 900, 100, 100], "upright": [100, 900, 900, 100]}, 0, 12, until=500)
    assert outlook.share[10:] == (0.25, 0.25, 0.5)
    assert outlook.odds == 0.5
    assert (outlook.quantile(0.1), outlook.quantile(0.5), outlook.quantile(0.9)) == (10, 11, 12)


def test_chance_arrivals_are_a_poisson_count():
    # Four weeks left, none of the floor, each takes one week: three weeks of arrivals at 1 a week.
    # Poisson, mean 3: P(0) = 0.0498, P(at most 3) = 0.6472, P(at least 6) = 0.0839 (standard tables).
    outlook = year(0, [], 1.0, 6, until=4 * 168, lead_samples=[168])
    assert outlook.share[0] == pytest.approx(0.0498, abs=5e-5)
    assert sum(outlook.share[:4]) == pytest.approx(0.6472, abs=5e-5)
    assert outlook.odds == pytest.approx(0.0839, abs=5e-5)
    assert outlook.mean == pytest.approx(3)


def test_booked_arrivals_are_finished_as_often_as_past_ones_were():
    # Binomial, 3 bookings of probability 1/2: 1/8, 3/8, 3/8, 1/8.
    outlook = year(0, [], [0.0, 0.0, 0.0], 2, until=100, lead_samples=[50, 150])
    assert outlook.share == pytest.approx((0.125, 0.375, 0.375, 0.125))
    assert outlook.odds == pytest.approx(0.5)


@settings(max_examples=60)
@given(
    st.integers(0, 80),
    st.lists(st.lists(st.floats(0, 9000), min_size=6, max_size=6), max_size=12),
    st.floats(0, 3),
    st.integers(0, 120),
    st.floats(0, 9000),
)
def test_the_year_adds_up(finished, samples, arrivals, target, until):
    outlook = year(finished, samples, arrivals, target, until=until, lead_samples=[600, 1900, 2400])
    assert math.fsum(outlook.share) == pytest.approx(1)
    assert sum(outlook.share[:finished]) == 0
    assert 0 <= outlook.odds <= 1
    assert outlook.quantile(0.1) <= outlook.quantile(0.9)
    assert (target > finished) or outlook.odds == pytest.approx(1)


@pytest.mark.parametrize(
    ("given_", "field"),
    [
        ({"finished": -1}, "finished"),
        ({"target": 1.5}, "target"),
        ({"open_finish_samples": [[1, 2], [3]]}, "open_finish_samples"),
        ({"arrivals": 1.0}, "lead_samples"),
        ({"arrivals": -1.0}, "arrivals"),
        ({"until": math.inf}, "until"),
    ],
)
def test_a_senseless_year_is_refused(given_, field):
    with pytest.raises(ComputeError, match=field):
        year(
            **{"finished": 1, "open_finish_samples": [], "arrivals": 0, "target": 3, "until": 100.0} | given_
        )
