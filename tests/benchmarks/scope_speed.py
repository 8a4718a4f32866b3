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
NO_RULES: list = []


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


def bench_of_rules(repairs: int, seed: int) -> tuple[list[Choice], list, list, list[list[str]]]:
    """Findings with up to three remedies each, as many remedies as `repairs`, over openings and closings.

    Every remedy takes work of its own; work may be had by heavier work of another finding; each piece of
    work needs one of two openings, and what is opened wholly is closed by one of two closings.
    """
    dice = random.Random(seed)
    choices, rules, exclusive, remedies = list[Choice](), list[tuple[set, set]](), list[set](), []
    for place in range(ENABLING):
        light, heavy = f"open {place} a little", f"open {place} wholly"
        choices += [
            Choice(light, Decimal(dice.randrange(50, 200))),
            Choice(heavy, Decimal(dice.randrange(200, 700))),
        ]
        choices += [
            Choice(f"close {place} {how}", Decimal(dice.randrange(50, 900))) for how in ("old", "new")
        ]
        rules.append(({heavy}, {f"close {place} old", f"close {place} new"}))
        exclusive.append({f"close {place} old", f"close {place} new"})
    while sum(map(len, remedies)) < repairs:
        remedies.append(_finding(len(remedies), dice, choices, rules, exclusive))
    return choices, rules, exclusive, remedies


def with_rules(repairs: int, seed: int) -> tuple[list[Choice], dict, list, Decimal, list]:
    """The same as a question: half of the money that all of it would take."""
    choices, rules, exclusive, _ = bench_of_rules(repairs, seed)
    everything = ask(choices, {}, exclusive, rules=rules).outline(2)[-1][0]
    return choices, {}, exclusive, Decimal(everything // 2), rules


def _finding(
    number: int, dice: random.Random, choices: list[Choice], rules: list, exclusive: list
) -> list[str]:
    place, worth, names = dice.randrange(ENABLING), dice.randrange(5, 60), list[str]()
    for grade in range(dice.choice((1, 2, 2, 3))):
        remedy, work = f"remedy {number}.{grade}", f"work {number}.{grade}"
        choices.append(Choice(remedy, Decimal(0), worth * (grade + 1)))
        choices.append(Choice(work, Decimal(dice.randrange(40, 800) * (grade + 1))))
        rules.append(({remedy}, {work} | ({f"close {place} new"} if dice.random() < 0.2 else set())))
        opened = {f"open {place} wholly"} | ({f"open {place} a little"} if grade == 0 else set())
        rules.append(({work}, opened))
        if dice.random() < 0.3:
            rules.append(({work, f"open {(place + 1) % ENABLING} wholly"}, {f"close {place} new"}))
        names.append(remedy)
    exclusive.append(set(names))
    exclusive.append({f"work {number}.{grade}" for grade in range(len(names))})
    return names


FAMILIES = {
    "benefit free": lambda repairs, seed: survey(repairs, seed),
    "benefit = cost / 10 + 10": lambda repairs, seed: survey(repairs, seed, strongly=True),
    "benefit = cost + 100": by_cost,
    "rules of openings and closings": lambda repairs, seed: with_rules(repairs, seed),
}


def main(repairs: int, scopes: int) -> None:
    """Print milliseconds and ratios for benefits that are free and for such as follow the cost."""
    for name, family in FAMILIES.items():
        surveys = [family(repairs, seed) for seed in range(scopes)]
        floors = [_ms(lambda each=each: _bare_run(*each)) for each in surveys]
        fits = [_ms(lambda each=each: _fit(*each)) for each in surveys]
        whole = [_ms(lambda each=each: _outline(*each)) for each in surveys]
        asked = [(ask(*each[:3], rules=_rules(*each)), each[3]) for each in surveys]
        moves = [_ms(lambda each=each: each[0].fit(each[1])) for each in asked]
        ratios = [ours / floor for ours, floor in zip(fits, floors, strict=True)]
        print(f"{repairs} repairs, {name}")
        print(f"  bare solver run   median {statistics.median(floors):6.0f} ms  most {max(floors):6.0f} ms")
        print(f"  fit with next step median {statistics.median(fits):5.0f} ms  most {max(fits):6.0f} ms")
        print(f"  ratio             median {statistics.median(ratios):6.2f}     most {max(ratios):6.2f}")
        print(f"  whole curve       median {statistics.median(whole):6.0f} ms  most {max(whole):6.0f} ms")
        print(f"  another budget    median {statistics.median(moves):6.0f} ms  most {max(moves):6.0f} ms")


def _rules(*survey: object) -> list:
    return survey[4] if len(survey) > 4 else []  # type: ignore[return-value]


def _bare_run(
    choices: list[Choice], requires: dict, exclusive: list, budget: Decimal, rules: list = NO_RULES
) -> None:
    scales = Scales(read(choices, requires, exclusive, (), (), rules), 100_000)
    minimise(scales, [-each for each in scales.worths], scales.steps(budget), None, {})


def _fit(
    choices: list[Choice], requires: dict, exclusive: list, budget: Decimal, rules: list = NO_RULES
) -> None:
    found = fit(choices, budget, requires, exclusive, rules=rules)
    assert found.is_proven
    assert found.next_step


def _outline(
    choices: list[Choice], requires: dict, exclusive: list, _: Decimal, rules: list = NO_RULES
) -> None:
    assert ask(choices, requires, exclusive, rules=rules).outline()


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
