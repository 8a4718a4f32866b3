"""``solve``: from a problem to the best plan that a given amount of searching finds.

The compiler and the searches are imported when a plan is first asked for; importing this module costs
nothing.
"""

from __future__ import annotations

import time
from collections.abc import Callable, Sequence
from concurrent.futures import ThreadPoolExecutor
from dataclasses import replace
from typing import TYPE_CHECKING, Protocol

from shopflow.compute.guards import number, one_of, whole
from shopflow.compute.schedule.problem import Job, Problem
from shopflow.compute.schedule.solution import Solution

if TYPE_CHECKING:
    from shopflow.compute.schedule.tables import Ints, Tables

OBJECTIVES = ("makespan", "tardiness")
CHAINS = 2
ROUNDS = 50
EYE_ON_THE_CLOCK = 0.05  # seconds of searching between two looks at the clock

Progress = Callable[[float, int], object]


class Chain(Protocol):
    """One search that can be carried on in steps, however they are cut."""

    budget: int

    @property
    def tries(self) -> int: ...

    @property
    def best(self) -> float: ...

    def carry_on(self, until: int) -> None: ...

    def order(self) -> Ints: ...


def solve(
    problem: Problem,
    seconds: float = 10.0,
    objective: str = "makespan",
    seed: int = 0,
    on_progress: Progress | None = None,
    *,
    iterations: int | None = None,
) -> Solution:
    """The best plan found within a budget of tries, and in no more than about so many seconds.

    Parameters: ``seconds`` of search at most, from which the number of tries is set unless ``iterations``
    gives it;
    ``objective`` "makespan" (all done soonest) or "tardiness" (weighted hours late; equal plans by makespan);
    ``seed`` any whole number; ``on_progress(best hours so far, tries)`` is called now and then and stops the
    search by returning False. Two searches run side by side on two processors.
    Result: a plan that keeps every rule. The same seed and budget give the same plan, as long as the seconds
    suffice to spend the budget (``complete`` says so); on a slower or busier machine give ``iterations`` and
    enough seconds.
    Raises ``ComputeError`` for an unknown objective or a senseless limit.

    >>> shop = Problem([Job("a", 3, {"bench": 1}), Job("b", 5, {"bench": 1}, due=5)], {"bench": 1})
    >>> solve(shop, objective="tardiness", iterations=100).start["b"]
    0.0
    """
    _refuse_bad_wishes(seconds, objective, seed, iterations)
    began = time.perf_counter()
    if not problem.jobs:
        return Solution(problem, {}, {}, objective, 0.0)
    from shopflow.compute.schedule.bounds import lower_bound
    from shopflow.compute.schedule.tables import tables_of

    tables = tables_of(problem)
    bound = lower_bound(tables, objective)
    chains = _chains(tables, objective, seed, seconds, iterations)
    complete = _search(chains, bound, began + seconds, on_progress)
    best = min(chains, key=lambda chain: chain.best)
    tries = sum(chain.tries for chain in chains)
    return _planned(problem, tables, best.order(), objective, bound, tries, complete)


def warm_up() -> None:
    """Compile all that ``solve`` needs, as a worker starts, so that no plan has to wait for it.

    >>> warm_up()
    """
    one = Job("one", 2, {"a": 1}, due=1, release=1)
    both = Job("both", 3, {"a": 1, "b": 1}, after={"one": 1}, due=2)
    other = Job("other", 3, {"a": 1}, due=2)
    holding = [replace(job, holds=frozenset({"c"})) for job in (one, both, other)]
    shop = Problem(holding, {"a": [(0, 1), (1, 2), (2, 1)], "b": 1})
    plain = Problem([one, both, other], {"a": 1, "b": 1})
    for objective in OBJECTIVES:
        for problem in (shop, plain):
            solve(problem, 600.0, objective, iterations=CHAINS * ROUNDS)


def _refuse_bad_wishes(seconds: float, objective: str, seed: int, iterations: int | None) -> None:
    one_of("objective", objective, OBJECTIVES)
    number("seconds", seconds, at_least=0)
    whole("seed", seed)
    whole("iterations", 0 if iterations is None else iterations, at_least=0)


def _chains(
    tables: Tables, objective: str, seed: int, seconds: float, iterations: int | None
) -> Sequence[Chain]:
    """Two searches of the kind that suits the problem, with dice of their own."""
    from shopflow.compute.schedule.annealing import Annealing
    from shopflow.compute.schedule.grid import grid_of
    from shopflow.compute.schedule.pool import PoolSearch

    seeds = range(seed * CHAINS, seed * CHAINS + CHAINS)
    each = None if iterations is None else iterations // CHAINS
    grid = grid_of(tables) if objective == "makespan" else None
    if grid is not None:
        budget = PoolSearch.budget_for(tables, seconds) if each is None else each
        return [PoolSearch(tables, grid, seed=own, budget=budget) for own in seeds]
    budget = Annealing.budget_for(tables, seconds) if each is None else each
    return [Annealing(tables, objective, seed=own, budget=budget) for own in seeds]


def _search(chains: Sequence[Chain], bound: float, deadline: float, on_progress: Progress | None) -> bool:
    """Carry the searches on side by side, round by round; True when the budget was spent or the bound
    reached.
    """
    with ThreadPoolExecutor(max_workers=len(chains)) as pool:
        for part in range(1, ROUNDS + 1):
            list(
                pool.map(
                    lambda chain, part=part: _one_round(chain, chain.budget * part // ROUNDS, deadline),
                    chains,
                )
            )
            best = min(chain.best for chain in chains)
            if on_progress is not None and on_progress(best, sum(chain.tries for chain in chains)) is False:
                return False
            if best <= bound:
                return True
            if time.perf_counter() >= deadline:
                break
    return all(chain.tries >= chain.budget for chain in chains)


def _one_round(chain: Chain, until: int, deadline: float) -> None:
    """Carry one search on to a number of tries, with an eye on the clock."""
    step = 1
    while chain.tries < until and (now := time.perf_counter()) < deadline:
        chain.carry_on(min(until, chain.tries + step))
        took = time.perf_counter() - now
        if took < EYE_ON_THE_CLOCK:
            step *= 2


def _planned(
    problem: Problem, tables: Tables, order: Ints, objective: str, bound: float, tries: int, complete: bool
) -> Solution:
    """The plan of an order, made by the one decoder and told in hours of the clock."""
    from shopflow.compute.schedule.decoder import plan_of
    from shopflow.compute.schedule.tables import TICKS, clock_of_finish, clock_of_start

    start, finish = plan_of(tables, order)
    ids = [job.id for job in problem.jobs]
    return Solution(
        problem,
        start=dict(zip(ids, (clock_of_start(tables, start) / TICKS).tolist(), strict=True)),
        finish=dict(zip(ids, (clock_of_finish(tables, finish) / TICKS).tolist(), strict=True)),
        objective=objective,
        lower_bound=bound,
        iterations=tries,
        complete=complete,
    )
