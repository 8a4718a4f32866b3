"""The best work for the money, and what a little more money would buy."""

from __future__ import annotations

import heapq
import math
from collections.abc import Iterable
from dataclasses import dataclass
from decimal import Decimal

from shopflow.compute.errors import ComputeError
from shopflow.compute.guards import whole
from shopflow.compute.scope.choices import Choice, Exclusive, Requires, Wishes, money, read
from shopflow.compute.scope.solver import Pick, Scales

MOST_NODES = 100_000


@dataclass(frozen=True, slots=True)
class NextStep:
    """The smallest extra money that buys a better set: how much more, what comes in, what goes out."""

    extra: Decimal
    cost: Decimal
    benefit: float
    comes_in: tuple[str, ...]
    goes_out: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class Fit:
    """The best set under a budget; ids in the order given, money exact, `room` the budget left over."""

    chosen: tuple[str, ...]
    left: tuple[str, ...]
    cost: Decimal
    benefit: float
    room: Decimal
    is_proven: bool
    next_step: NextStep | None


@dataclass(frozen=True, slots=True)
class Point:
    """One step of the staircase: no cheaper set is worth as much, no set for this money is worth more."""

    cost: Decimal
    benefit: float
    chosen: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class Curve:
    """Benefit against money, by rising cost; `is_whole` tells that no step is missing between the points."""

    points: tuple[Point, ...]
    is_whole: bool


def fit(
    choices: Iterable[Choice],
    budget: Decimal,
    requires: Requires,
    exclusive: Exclusive,
    *,
    insist: Iterable[str] = (),
    refuse: Iterable[str] = (),
    nodes: int = MOST_NODES,
) -> Fit:
    """Find the work that is worth most for a budget, each shared enabling operation paid once.

    Parameters: `choices` up to 1,000; `budget` money, whole cents; `requires` {id: ids it pulls in, and what
    these pull in}; `exclusive` groups of which at most one may be taken; `insist` ids that must be in (the
    customer's wish, safety); `refuse` ids that must stay out; `nodes` how long the solver may search.
    Result: Fit. Among sets of equal benefit the cheapest, among those the one that takes what came first;
    nothing of benefit 0 unless something needs it. Benefits count as the decimals they print as; where their
    sum has more than nine digits on that grid they are rounded to it. `is_proven` is False when the search
    was cut short: the set keeps all rules, a better one may exist, and `next_step` is None (so it is, too,
    when no money buys more, or when that could not be proven).
    Errors: ComputeError for unknown or double ids, for numbers that make no sense, for wishes that contradict
    each other, and for a budget below the work insisted on.
    Source: 0/1 knapsack with precedence (Kellerer, Pferschy, Pisinger, Knapsack Problems, 2004; from memory),
    solved to proven optimality by branch and bound (HiGHS).

    >>> plate = Choice("plate out", Decimal(300))
    >>> block = Choice("replace pinblock", Decimal(900), 9)
    >>> board = Choice("shim soundboard", Decimal(400), 5)
    >>> found = fit([plate, block, board], Decimal(800), {b.id: {"plate out"} for b in (block, board)}, [])
    >>> found.chosen, found.cost, found.next_step.extra
    (('plate out', 'shim soundboard'), Decimal('700'), Decimal('400'))
    """
    wishes = read(choices, requires, exclusive, insist, refuse)
    purse = money("budget", budget)
    _afford(wishes, purse)
    scales = Scales(wishes, _effort(nodes))
    pick = scales.best(scales.steps(purse))
    chosen = _ids(wishes, pick)
    cost = wishes.cost(chosen)
    return Fit(
        chosen=chosen,
        left=tuple(each.id for each in wishes.choices if each.id not in chosen),
        cost=cost,
        benefit=_benefit(wishes, chosen),
        room=purse - cost,
        is_proven=pick.is_proven,
        next_step=_next_step(scales, pick, purse) if pick.is_proven else None,
    )


def curve(
    choices: Iterable[Choice],
    requires: Requires,
    exclusive: Exclusive,
    *,
    insist: Iterable[str] = (),
    refuse: Iterable[str] = (),
    points: int = 24,
    nodes: int = MOST_NODES,
) -> Curve:
    """Show what every sum of money buys, from the work insisted on to the best set that money can buy.

    Parameters: `points` at most so many steps, 2 to 500; the others as for `fit`.
    Result: Curve. Method: an exact fit at the middle of the widest gap between two known points, again and
    again; where nothing lies below the middle, the next step above the lower point. Every point is efficient
    and exact. When the number of points runs out, steps between them are missing and `is_whole` is False; so
    it is when a search was cut short. Each point costs one or two fits.
    Errors and source as for `fit`; ComputeError for `points` outside its span.

    >>> curve([Choice("tune", Decimal(90), 2), Choice("regulate", Decimal(700), 5)], {}, []).points[1]
    Point(cost=Decimal('90'), benefit=2.0, chosen=('tune',))
    """
    wishes = read(choices, requires, exclusive, insist, refuse)
    most = whole("points", points, at_least=2, at_most=500)
    picks, is_whole = _staircase(Scales(wishes, _effort(nodes)), most)
    return Curve(tuple(_point(wishes, pick) for pick in picks), is_whole)


def _afford(wishes: Wishes, purse: Decimal) -> None:
    needed = wishes.cost(wishes.insisted)
    if needed > purse:
        named = ", ".join(wishes.in_order(wishes.insisted))
        raise ComputeError(
            "budget", purse, f"at least {needed:,.2f}, which the work insisted on costs: {named}"
        )


def _effort(nodes: int) -> int:
    return whole("nodes", nodes, at_least=0, at_most=2**31 - 1)


def _next_step(scales: Scales, pick: Pick, purse: Decimal) -> NextStep | None:
    better = scales.above(pick)
    if better is None or not better.is_proven:
        return None
    wishes, now, then = scales.wishes, _ids(scales.wishes, pick), _ids(scales.wishes, better)
    cost = wishes.cost(then)
    return NextStep(
        extra=cost - purse,
        cost=cost,
        benefit=_benefit(wishes, then),
        comes_in=tuple(id for id in then if id not in now),
        goes_out=tuple(id for id in now if id not in then),
    )


def _staircase(scales: Scales, most: int) -> tuple[list[Pick], bool]:
    everything = sum(scales.costs)
    low = scales.best(sum(scales.costs[place] for place in scales.must))
    high = scales.best(everything)
    picks = {low.cost: low, high.cost: high}
    gaps = [(low.cost - high.cost, low.cost, high.cost)] if low.cost < high.cost else []
    while gaps and len(picks) < most:
        _, start, end = heapq.heappop(gaps)
        for found, seen_below in _between(scales, picks[start], picks[end]):
            picks[found.cost] = found
            heapq.heappush(gaps, (found.cost - end, found.cost, end))
            if seen_below:
                heapq.heappush(gaps, (start - found.cost, start, found.cost))
    in_order = [picks[cost] for cost in sorted(picks)]
    return in_order, not gaps and all(pick.is_proven for pick in in_order)


def _between(scales: Scales, low: Pick, high: Pick) -> list[tuple[Pick, bool]]:
    """A step between two known ones, and whether there may be more below it; empty when there is none."""
    middle = scales.best((low.cost + high.cost) // 2)
    if middle.worth > low.worth:
        return [(middle, True)]
    above = scales.above(low)
    return [(above, False)] if above and above.cost < high.cost else []


def _point(wishes: Wishes, pick: Pick) -> Point:
    chosen = _ids(wishes, pick)
    return Point(wishes.cost(chosen), _benefit(wishes, chosen), chosen)


def _ids(wishes: Wishes, pick: Pick) -> tuple[str, ...]:
    return tuple(each.id for place, each in enumerate(wishes.choices) if place in pick.places)


def _benefit(wishes: Wishes, ids: Iterable[str]) -> float:
    wanted = set(ids)
    return math.fsum(each.benefit for each in wishes.choices if each.id in wanted)
