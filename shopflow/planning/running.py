"""The shop run many times on paper, each time with hours, rests and stops as they might turn out."""

from __future__ import annotations

from collections.abc import Hashable, Sequence
from dataclasses import replace
from typing import cast

from shopflow.compute import forecast
from shopflow.compute.schedule import Problem, Solution

from .problem import ShopProblem

RUNS = 1000


def run_forecast(
    asked: ShopProblem,
    *,
    runs: int = RUNS,
    seed: int = 0,
    plan: Solution | None = None,
    quantiles: Sequence[float] = forecast.QUANTILES,
) -> forecast.Forecast:
    """How the finishes fall when the shop works by the urgency of a plan, or of the due days without one."""
    chances = asked.chances
    return forecast.simulate(
        _with_waits_drawn(asked),
        chances.spread,
        runs,
        seed,
        plan=plan,
        shared=chances.shared,
        rests=chances.rests,
        stops=chances.stops,
        beside=asked.meanwhile,
        quantiles=quantiles,
    )


def _with_waits_drawn(asked: ShopProblem) -> Problem:
    """The problem without the days that the plan takes for granted and each run draws anew."""
    if not asked.unstopped:
        return asked.problem
    sooner = cast("dict[Hashable, float]", asked.unstopped)
    jobs = [replace(job, release=sooner[job.id]) if job.id in sooner else job for job in asked.problem.jobs]
    return replace(asked.problem, jobs=jobs)
