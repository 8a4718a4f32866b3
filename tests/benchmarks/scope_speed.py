"""How long a scope of 80 repairs takes, as a ratio to one bare run of the solver in the same process.

Run it with:  python -m tests.benchmarks.scope_speed [repairs] [scopes]

The floor is one run of the solver (HiGHS) for the best set alone: no order of ties, no next step, no curve.
"""

from __future__ import annotations

import random
import statistics
import sys
import time
from collections.abc import Callable
from decimal import Decimal

from shopflow.compute.scope import Choice, ask, fit
from shopflow.compute.scope.choices import read
from shopflow.compute.scope.solver import Scales, minimise

ENABLING = 7


def survey(repairs: int, seed: int, *, strongly: bool = False) -> tuple[list[Choice], dict, list, Decimal]:
    """A survey with 7 shared enabling operations and replace-or-repair pairs; a third of the money."""
    dice = random.Random(seed)
    opened = [Choice(f"open {number}", Decimal(dice.randrange(100, 900, 5))) for number in range(ENABLING)]
    work = []
    requires: dict[str, set[str]] = {"open 1": {"open 0"}, "open 2": {"open 1"}}
    for number in range(repairs):
        cost = dice.randrange(40, 1500, 5)
        benefit = cost / 10 + 10 if strongly else dice.randrange(1, 100)
        work.append(Choice(f"repair {number}", Decimal(cost), benefit))
        requires[f"repair {number}"] = {each.id for each in dice.sample(opened, dice.choice((0, 1, 1, 2)))}
    exclusive = [{f"repair {number}", f"repair {number + 1}"} for number in range(0, repairs // 2, 2)]
    for number in range(repairs // 2, repairs - 1, 6):
        requires[f"repair {number}"].add(f"repair {number + 1}")
    return opened + work, requires, exclusive, Decimal(sum(each.cost for each in work) // 3)


def by_cost(repairs: int, seed: int) -> tuple[list[Choice], dict, list, Decimal]:
    """The same net of work, costs of any whole number, and each repair worth its cost and a constant."""
    choices, requires, exclusive, _ = survey(repairs, seed)
    dice = random.Random(seed)
    costs = [dice.randrange(40, 1500) for _ in choices]
    work = [
        Choice(each.id, Decimal(cost), each.benefit and cost + 100)
        for each, cost in zip(choices, costs, strict=True)
    ]
    return work, requires, exclusive, Decimal(sum(costs) // 3)


FAMILIES = {
    "benefit free": lambda repairs, seed: survey(repairs, seed),
    "benefit = cost / 10 + 10": lambda repairs, seed: survey(repairs, seed, strongly=True),
    "benefit = cost + 100": by_cost,
}


def main(repairs: int, scopes: int) -> None:
    """Print milliseconds and ratios for benefits that are free and for such as follow the cost."""
    for name, family in FAMILIES.items():
        surveys = [family(repairs, seed) for seed in range(scopes)]
        floors = [_ms(lambda each=each: _bare_run(*each)) for each in surveys]
        fits = [_ms(lambda each=each: _fit(*each)) for each in surveys]
        whole = [_ms(lambda each=each: _outline(*each)) for each in surveys]
        ratios = [ours / floor for ours, floor in zip(fits, floors, strict=True)]
        print(f"{repairs} repairs, {name}")
        print(f"  bare solver run   median {statistics.median(floors):6.0f} ms  most {max(floors):6.0f} ms")
        print(f"  fit with next step median {statistics.median(fits):5.0f} ms  most {max(fits):6.0f} ms")
        print(f"  ratio             median {statistics.median(ratios):6.2f}     most {max(ratios):6.2f}")
        print(f"  whole curve       median {statistics.median(whole):6.0f} ms  most {max(whole):6.0f} ms")


def _bare_run(choices: list[Choice], requires: dict, exclusive: list, budget: Decimal) -> None:
    scales = Scales(read(choices, requires, exclusive, (), ()), 100_000)
    minimise(scales, [-each for each in scales.worths], scales.steps(budget), None, {})


def _fit(choices: list[Choice], requires: dict, exclusive: list, budget: Decimal) -> None:
    found = fit(choices, budget, requires, exclusive)
    assert found.is_proven
    assert found.next_step


def _outline(choices: list[Choice], requires: dict, exclusive: list, _: Decimal) -> None:
    assert ask(choices, requires, exclusive).outline()


def _ms(deed: Callable[[], object], runs: int = 3) -> float:
    """The fastest of a few runs, so that a busy machine does not count."""
    times = []
    for _ in range(runs):
        began = time.perf_counter()
        deed()
        times.append((time.perf_counter() - began) * 1000)
    return min(times)


if __name__ == "__main__":
    main(*(int(word) for word in (sys.argv[1:] + ["80", "8"][len(sys.argv) - 1 :])))
