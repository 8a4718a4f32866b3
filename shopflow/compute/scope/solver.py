"""Exact answers to small questions of choice, by the mixed integer solver HiGHS on whole numbers.

Costs enter in whole cents and benefits on a whole-number grid, so "better" means by at least one.
Every answer is added up again in whole numbers before it is believed.
"""

from __future__ import annotations

import math
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from decimal import Decimal
from typing import Any

from shopflow.compute.scope.choices import CENT, Wishes

# Benefits are exact if their sum on their common decimal grid stays below this; else they are rounded to it.
FINEST = 10**9
# So many yes-or-no answers fit into one objective as powers of two and stay far above the tolerances.
AT_ONCE = 20
TOLERANCE = 1e-9


@dataclass(frozen=True, slots=True)
class Pick:
    """A set of places in the order given, its cost in steps of money, its worth on the grid; is it proven?"""

    places: frozenset[int]
    cost: int
    worth: int
    is_proven: bool = True


class Scales:
    """The wishes in whole numbers, and the questions the solver can answer about them."""

    def __init__(self, wishes: Wishes, nodes: int) -> None:
        self.wishes, self.nodes = wishes, nodes
        cents = [int(each.cost / CENT) for each in wishes.choices]
        self.cents_per_step = math.gcd(*cents) or 1
        self.costs = [each // self.cents_per_step for each in cents]
        self.worths, self.benefit_per_step = _on_a_grid([each.benefit for each in wishes.choices])
        self.place = {each.id: place for place, each in enumerate(wishes.choices)}
        self.rules = [(self._places(rule.body), self._places(rule.heads)) for rule in wishes.rules]
        self.groups = [self._places(group) for group in wishes.exclusive]

    def steps(self, budget: Decimal) -> int:
        """Money in whole steps; what is left over below one step buys nothing."""
        return int(budget / CENT) // self.cents_per_step

    def money(self, steps: int) -> Decimal:
        """Whole steps as money."""
        return steps * self.cents_per_step * CENT

    def least(self) -> Pick | None:
        """The cheapest set that keeps all rules, and of these the best; None if nothing does."""
        cheapest = self._ask(self.costs)
        return self.best(cheapest.cost) if cheapest else None

    def best(self, limit: int) -> Pick:
        """Most worth within the limit; among equals the cheapest; among those the preferred one."""
        top = self._ask([-each for each in self.worths], limit=limit)
        if top is None:
            return Pick(frozenset(), 0, 0, is_proven=False)
        if not top.is_proven:
            return self.pick(self._lean(top.places), is_proven=False)
        cheap = self._ask(self.costs, floor=top.worth, limit=top.cost)
        if cheap and cheap.is_proven:
            return self._preferred(cheap)
        return self.pick(self._lean(top.places), is_proven=False)

    def above(self, pick: Pick) -> Pick | None:
        """The cheapest set worth more than this one, and the best for that money; None if there is none."""
        cheapest = self._ask(self.costs, floor=pick.worth + 1)
        return self.best(cheapest.cost) if cheapest and cheapest.is_proven else None

    def _preferred(self, pick: Pick) -> Pick:
        """Of all sets of this worth and cost the one that takes what is worth something and was given first,

        and of mere enabling work leaves what was given last; a batch at a time.
        """
        early = [place for place, worth in enumerate(self.worths) if worth]
        late = [place for place, worth in enumerate(self.worths) if not worth]
        wanted = [(place, -1) for place in early] + [(place, 1) for place in reversed(late)]
        fixed: dict[int, bool] = {}
        for start in range(0, len(wanted), AT_ONCE):
            batch = wanted[start : start + AT_ONCE]
            objective = [0] * len(self.costs)
            for rank, (place, sign) in enumerate(batch):
                objective[place] = sign << (len(batch) - 1 - rank)
            found = self._ask(objective, limit=pick.cost, floor=pick.worth, fixed=fixed)
            if not found or not found.is_proven:
                return self.pick(self._lean(pick.places), is_proven=False)
            fixed |= {place: place in found.places for place, _ in batch}
            pick = found
        return pick

    def _ask(
        self,
        objective: Sequence[int],
        *,
        limit: int | None = None,
        floor: int | None = None,
        fixed: dict[int, bool] | None = None,
    ) -> Pick | None:
        """The set of least objective within a money limit and above a floor of worth, or None."""
        places, is_proven = minimise(self, objective, limit, floor, fixed or {})
        if places is None:
            return None
        pick = self.pick(places, is_proven)
        kept = (limit is None or pick.cost <= limit) and (floor is None or pick.worth >= floor)
        return pick if kept and self._holds(pick.places) else None

    def pick(self, places: Iterable[int], is_proven: bool = True) -> Pick:
        """This very set, added up."""
        taken = frozenset(places)
        cost, worth = sum(self.costs[each] for each in taken), sum(self.worths[each] for each in taken)
        return Pick(taken, cost, worth, is_proven)

    def _lean(self, places: frozenset[int]) -> frozenset[int]:
        """Without what is worth nothing and no rule asks for: nothing is opened for nothing."""
        for place in sorted(places, reverse=True):
            if not self.worths[place] and self._holds(places - {place}):
                places -= {place}
        return places

    def _holds(self, taken: frozenset[int]) -> bool:
        kept = all(not body <= taken or heads & taken for body, heads in self.rules)
        return kept and all(len(group & taken) <= 1 for group in self.groups)

    def _places(self, ids: Iterable[str]) -> frozenset[int]:
        return frozenset(self.place[id] for id in ids)


def minimise(
    scales: Scales, objective: Sequence[int], limit: int | None, floor: int | None, fixed: dict[int, bool]
) -> tuple[frozenset[int] | None, bool]:
    """Let HiGHS choose; gives the places chosen (None if there is no such set) and whether that is proven."""
    import highspy  # Only here: the module is imported where no solver is installed.

    solver = highspy.Highs()
    for option, value in _options(scales.nodes).items():
        solver.setOptionValue(option, value)
    infinity = highspy.kHighsInf
    for place, weight in enumerate(objective):
        low, high = (float(fixed[place]),) * 2 if place in fixed else (0.0, 1.0)
        solver.addCol(float(weight), low, high, 0, [], [])
        solver.changeColIntegrality(place, highspy.HighsVarType.kInteger)
    if limit is not None:
        _row(solver, -infinity, limit, dict(enumerate(scales.costs)))
    if floor is not None:
        _row(solver, floor, infinity, dict(enumerate(scales.worths)))
    for body, heads in scales.rules:
        _row(solver, 1 - len(body), infinity, dict.fromkeys(heads, 1) | dict.fromkeys(body, -1))
    for group in scales.groups:
        _row(solver, -infinity, 1, dict.fromkeys(group, 1))
    solver.run()
    is_proven = solver.getModelStatus() == highspy.HighsModelStatus.kOptimal
    if not math.isfinite(solver.getInfo().objective_function_value):
        return None, is_proven
    values = solver.getSolution().col_value
    return frozenset(place for place, value in enumerate(values) if value > 0.5), is_proven


def _options(nodes: int) -> dict[str, Any]:
    # A limit on nodes, not on seconds: the same question gets the same answer on a slow day.
    return {
        "output_flag": False,
        "parallel": "off",
        "random_seed": 0,
        "mip_max_nodes": nodes,
        "mip_rel_gap": 0.0,
        "mip_abs_gap": 0.5,
        "mip_feasibility_tolerance": TOLERANCE,
        "primal_feasibility_tolerance": TOLERANCE,
        "dual_feasibility_tolerance": TOLERANCE,
    }


def _row(solver: Any, low: float, high: float, entries: dict[int, int]) -> None:
    used = {place: float(value) for place, value in entries.items() if value}
    solver.addRow(float(low), float(high), len(used), list(used), list(used.values()))


def _on_a_grid(benefits: Sequence[float]) -> tuple[list[int], float]:
    """Benefits as whole numbers, and what one is worth: exact as the decimals print, rounded if too fine."""
    exact = [Decimal(repr(each)) for each in benefits]
    places = max((-int(each.normalize().as_tuple().exponent) for each in exact), default=0)
    whole = [int(each.scaleb(max(places, 0))) for each in exact]
    shared = math.gcd(*whole) or 1
    if sum(whole) // shared <= FINEST:
        return [each // shared for each in whole], float(Decimal(shared).scaleb(-max(places, 0)))
    steps = [math.ceil(each * FINEST // sum(whole)) or int(each > 0) for each in whole]
    return steps, math.fsum(benefits) / sum(steps)
