"""The best work for the money, and what a little more money would buy."""

from __future__ import annotations

import math
from collections.abc import Iterable
from decimal import Decimal
from functools import cached_property

from shopflow.compute.errors import ComputeError
from shopflow.compute.guards import whole
from shopflow.compute.scope.answers import Curve, Fit, NextStep, Point
from shopflow.compute.scope.choices import Choice, Exclusive, Requires, Rules, Wishes, money, read
from shopflow.compute.scope.listed import Listed
from shopflow.compute.scope.solver import Pick, Scales
from shopflow.compute.scope.stairs import Answers, staircase
from shopflow.compute.scope.ways import TooTangled

MOST_NODES = 100_000


def fit(
    choices: Iterable[Choice],
    budget: Decimal,
    requires: Requires,
    exclusive: Exclusive,
    *,
    insist: Iterable[str] = (),
    refuse: Iterable[str] = (),
    rules: Rules = (),
    nodes: int = MOST_NODES,
) -> Fit:
    """Find the work that is worth most for a budget, each shared enabling operation paid once.

    Parameters: `choices` up to 1,000; `budget` money, whole cents; `requires` {id: ids it pulls in, and what
    these pull in}; `exclusive` groups of which at most one may be taken; `insist` ids that must be in (the
    customer's wish, safety); `refuse` ids that must stay out; `rules` pairs of ids: if all of the first are
    in, one of the second must be (no first: one must be in any case; "a repair is had by its own work or by
    heavier work" is such a rule, too); `nodes` how long the solver may search where it is needed.
    Result: Fit. Among sets of equal benefit the cheapest, among those the one that takes what came first and
    of mere enabling work leaves what came last; nothing of benefit 0 unless a rule asks for it. Benefits
    count as the decimals they print as; where their sum has more than nine digits on that grid they are
    rounded to it. `is_proven` is False when the search was cut short: the set keeps all rules, a better one
    may exist, and `next_step` is None (so it is, too, when no money buys more, or when that could not be
    proven).
    Errors: ComputeError for unknown or double ids, for numbers that make no sense, for wishes and rules
    that no set can keep together, and for a budget below what must be.
    Source: 0/1 knapsack by lists of undominated sets (Kellerer, Pferschy, Pisinger, Knapsack Problems, 2004;
    from memory), with and without each choice that ties much work together, what follows from it followed at
    once and what falls apart then gone through apart; where the list would be too long, branch and bound
    (HiGHS). Both are exact.

    >>> plate = Choice("plate out", Decimal(300))
    >>> block = Choice("replace pinblock", Decimal(900), 9)
    >>> board = Choice("shim soundboard", Decimal(400), 5)
    >>> found = fit([plate, block, board], Decimal(800), {b.id: {"plate out"} for b in (block, board)}, [])
    >>> found.chosen, found.cost, found.next_step.extra
    (('plate out', 'shim soundboard'), Decimal('700'), Decimal('400'))
    """
    wishes = read(choices, requires, exclusive, insist, refuse, rules)
    purse = money("budget", budget)
    return Question(wishes, _effort(nodes)).fit(purse)


def curve(
    choices: Iterable[Choice],
    requires: Requires,
    exclusive: Exclusive,
    *,
    insist: Iterable[str] = (),
    refuse: Iterable[str] = (),
    rules: Rules = (),
    points: int = 24,
    nodes: int = MOST_NODES,
) -> Curve:
    """Show what every sum of money buys, from the work insisted on to the best set that money can buy.

    Parameters: `points` at most so many steps, 2 to 500; the others as for `fit`.
    Result: Curve. Every point is efficient and exact. If there are more than `points`, those nearest below
    evenly spread sums of money are given and `is_whole` is False; so it is when a search was cut short.
    Errors and source as for `fit`; ComputeError for `points` outside its span.

    >>> curve([Choice("tune", Decimal(90), 2), Choice("regulate", Decimal(700), 5)], {}, []).points[1]
    Point(cost=Decimal('90'), benefit=2.0, chosen=('tune',))
    """
    wishes = read(choices, requires, exclusive, insist, refuse, rules)
    return Question(wishes, _effort(nodes)).curve(points)


def ask(
    choices: Iterable[Choice],
    requires: Requires,
    exclusive: Exclusive,
    *,
    insist: Iterable[str] = (),
    refuse: Iterable[str] = (),
    rules: Rules = (),
    nodes: int = MOST_NODES,
) -> Question:
    """Think a question through once, to ask it for many budgets.

    Parameters, errors and source as for `fit`. Result: Question, with `.fit(budget)` and `.curve(points)` as
    the functions of these names, `.least()`, the cheapest set that keeps all rules, and `.outline(points)`,
    the curve's costs and benefits alone.

    >>> tuning = ask([Choice("tune", Decimal(90), 2), Choice("regulate", Decimal(700), 5)], {}, [])
    >>> tuning.fit(Decimal(100)).chosen, tuning.outline()[1]
    (('tune',), (Decimal('90.00'), 2.0))
    """
    return Question(read(choices, requires, exclusive, insist, refuse, rules), _effort(nodes))


class Question:
    """Wishes, and for many budgets all their efficient sets in a list, if these are not too many."""

    def __init__(self, wishes: Wishes, nodes: int) -> None:
        self.wishes = wishes
        self.scales = Scales(wishes, nodes)
        self.listed = _listed(self.scales)
        self.answers: Answers = self.scales if self.listed is None else self.listed

    def fit(self, budget: Decimal) -> Fit:
        """As `fit`, for this budget."""
        purse = money("budget", budget)
        self._afford(purse)
        pick = self.answers.best(self.scales.steps(purse))
        chosen = self._ids(pick)
        cost = self.wishes.cost(chosen)
        return Fit(
            chosen=chosen,
            left=tuple(each.id for each in self.wishes.choices if each.id not in chosen),
            cost=cost,
            benefit=self._benefit(chosen),
            room=purse - cost,
            is_proven=pick.is_proven,
            next_step=self._next_step(pick, self.answers.above(pick), purse) if pick.is_proven else None,
        )

    def curve(self, points: int = 24) -> Curve:
        """As `curve`, for so many points."""
        most, least = whole("points", points, at_least=2, at_most=500), self._least
        if self.listed is not None:
            numbers = self.listed.spread(most)
            picks, is_whole = [self.listed.pick(each) for each in numbers], len(numbers) == len(self.listed)
        else:
            picks, is_whole = staircase(self.answers, least.cost, sum(self.scales.costs), most)
        return Curve(tuple(self._point(pick) for pick in picks), is_whole)

    def outline(self, points: int = 200) -> list[tuple[Decimal, float]]:
        """Cost and benefit of the points of the curve without their sets: for a picture, quickly."""
        if self.listed is None:
            return [(point.cost, point.benefit) for point in self.curve(min(points, 24)).points]
        pairs = map(self.listed.cost_and_worth, self.listed.spread(points))
        return [(self.scales.money(cost), worth * self.scales.benefit_per_step) for cost, worth in pairs]

    def least(self) -> Point:
        """The cheapest set that keeps all rules, and of these the one that is worth most."""
        return self._point(self._least)

    def _next_step(self, pick: Pick, better: Pick | None, purse: Decimal) -> NextStep | None:
        if better is None or not better.is_proven:
            return None
        now, then = self._ids(pick), self._ids(better)
        cost = self.wishes.cost(then)
        return NextStep(
            extra=cost - purse,
            cost=cost,
            benefit=self._benefit(then),
            comes_in=tuple(id for id in then if id not in now),
            goes_out=tuple(id for id in now if id not in then),
        )

    @cached_property
    def _least(self) -> Pick:
        least = self.answers.least()
        if least is None:
            rules = len(self.wishes.rules)
            raise ComputeError("rules", rules, "rules and wishes that one set can keep together")
        return least

    def _afford(self, purse: Decimal) -> None:
        needed = self.least()
        if needed.cost > purse:
            named = ", ".join(needed.chosen)
            allowed = f"at least {needed.cost:,.2f}, which the work insisted on costs: {named}"
            raise ComputeError("budget", purse, allowed)

    def _point(self, pick: Pick) -> Point:
        chosen = self._ids(pick)
        return Point(self.wishes.cost(chosen), self._benefit(chosen), chosen)

    def _ids(self, pick: Pick) -> tuple[str, ...]:
        return tuple(each.id for place, each in enumerate(self.wishes.choices) if place in pick.places)

    def _benefit(self, ids: Iterable[str]) -> float:
        wanted = set(ids)
        return math.fsum(each.benefit for each in self.wishes.choices if each.id in wanted)


def _listed(scales: Scales) -> Listed | None:
    try:
        return Listed(scales)
    except (TooTangled, RecursionError):
        return None


def _effort(nodes: int) -> int:
    return whole("nodes", nodes, at_least=0, at_most=2**31 - 1)
