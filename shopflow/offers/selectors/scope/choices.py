"""A weighing as a question of choice: what is wished, what must be, and how to read the answers."""

from __future__ import annotations

from bisect import bisect_right
from dataclasses import dataclass
from decimal import Decimal
from functools import lru_cache

from shopflow.catalogue.models import Remedy
from shopflow.common.refusals import Refused
from shopflow.compute.errors import ComputeError
from shopflow.compute.scope import Fit, Point, Question, ask

from .put import Put, put, remedy_id
from .weighing import Weighed, Weighing

MOST_STEPS = 20_000


@dataclass(frozen=True, slots=True)
class Wishes:
    """What the customer wants: findings to be mended (by which remedy, or by any), findings to be left."""

    insist: tuple[str, ...] = ()
    refuse: tuple[str, ...] = ()

    def of(self, one: Weighed) -> str:
        """ "leave", "must", the key of a remedy, or nothing: we choose."""
        if str(one.pk) in self.refuse:
            return "leave"
        insisted = [wish.partition(":")[2] or "must" for wish in self.insist if _about(wish) == str(one.pk)]
        return insisted[-1] if insisted else ""


class WishesClash(Refused):
    """Two wishes, or a wish and safety, that cannot both be."""


class TooLittle(Refused):
    """The money does not reach for what must be done; says what that is and what it comes to."""

    def __init__(self, needed: Decimal, what: list[tuple[Weighed, str]], sign: str) -> None:
        self.needed, self.what = needed, what
        named = "; ".join(f"{one.found.number}. {one.found.name} ({how})" for one, how in what)
        words = f"At least {sign}{needed:,.0f} is needed for what must be done"
        super().__init__(f"{words}: {named}." if named else f"{words} in every job.", field="budget")


@dataclass(frozen=True, slots=True)
class Asked:
    """The question, and how to read its answers."""

    weighing: Weighing
    question: Question
    least: Point
    musts: tuple[Weighed, ...]

    def fit(self, budget: Decimal) -> Fit:
        """The best set whose price keeps the budget; TooLittle if what must be done does not."""
        money = self.weighing.reckoner.prices.steps_within(budget)
        if self.least.cost > money:
            raise TooLittle(
                self.weighing.price(self.least.cost), self._needed(), self.weighing.terms.currency
            )
        return self.question.fit(money)

    def outline(self, points: int) -> list[tuple[Decimal, float]]:
        """Price and worth of at most so many steps, from what must be done up to all that helps."""
        known: dict[Decimal, float] = {}
        for cost, benefit in _whole_outline(self.question):
            price = self.weighing.price(cost)
            known[price] = max(known.get(price, 0.0), benefit)
        return _spread(sorted(known.items()), points)

    def _needed(self) -> list[tuple[Weighed, str]]:
        taken = dict(id.split(":") for id in self.least.chosen if not id.startswith("op:"))
        names = {str(remedy.pk): remedy.name for one in self.musts for remedy in one.remedies}
        return [(one, names[taken[str(one.pk)]]) for one in self.musts if str(one.pk) in taken]


def asked(weighing: Weighing, wishes: Wishes) -> Asked:
    """The question that these wishes ask; WishesClash where they cannot be."""
    try:
        return _asked(weighing, wishes)
    except ComputeError as wrong:
        raise Refused(f"This cannot be weighed: {wrong}") from wrong


def _asked(weighing: Weighing, wishes: Wishes) -> Asked:
    musts = _musts(weighing, wishes)
    offered = {one.pk: _fitting(one, wishes) for one in weighing.mendable if wishes.of(one) != "leave"}
    worths = {
        remedy_id(one.pk, remedy): weighing.benefit(one, remedy)
        for one in weighing.mendable
        for remedy in offered.get(one.pk, ())
    }
    question = _question(put(weighing, offered, worths, musts))
    try:
        return Asked(weighing, question, question.least(), tuple(musts))
    except ComputeError as wrong:
        named = "; ".join(f"{one.found.number}. {one.found.name}" for one in musts)
        raise WishesClash(f"What must be done cannot all be done on one piano: {named}.") from wrong


def _musts(weighing: Weighing, wishes: Wishes) -> list[Weighed]:
    """Findings that must be mended by some remedy: for safety, or because the customer insists."""
    for one in weighing.findings:
        if wishes.of(one) == "leave" and one.is_required:
            raise WishesClash(
                f"{one.found.number}. {one.found.name} is a matter of safety (severity "
                f"{one.found.severity}): it cannot be left in a piano that is handed over.",
                field=f"wish-{one.pk}",
            )
    wished = {_about(wish) for wish in wishes.insist}
    for twice in wished & set(wishes.refuse):
        named = next(one.found for one in weighing.findings if str(one.pk) == twice)
        raise WishesClash(
            f"{named.number}. {named.name} is to be mended and to be left: choose one.", field=f"wish-{twice}"
        )
    return [one for one in weighing.mendable if one.is_required or str(one.pk) in wished]


def _fitting(one: Weighed, wishes: Wishes) -> list[Remedy]:
    only = wishes.of(one)
    return [remedy for remedy in one.remedies if only in ("", "must", str(remedy.pk))]


@lru_cache(maxsize=4)
def _question(put: Put) -> Question:
    """Thought through once: while only the budget moves, the same question is asked again and again."""
    return ask(put.choices, {}, put.exclusive, rules=put.rules)


@lru_cache(maxsize=4)
def _whole_outline(question: Question) -> list[tuple[Decimal, float]]:
    return question.outline(MOST_STEPS)


def _spread(steps: list[tuple[Decimal, float]], points: int) -> list[tuple[Decimal, float]]:
    """The first, the last, and those nearest below evenly spread sums between them."""
    if len(steps) <= points:
        return steps
    sums = [price for price, _ in steps]
    first, last = sums[0], sums[-1]
    wanted = (first + (last - first) * place / (points - 1) for place in range(points - 1))
    kept = {bisect_right(sums, sum_of_money) - 1 for sum_of_money in wanted} | {len(sums) - 1}
    return [steps[place] for place in sorted(kept)]


def _about(wish: str) -> str:
    return wish.partition(":")[0]
