"""A weighing as a question of choice: what may be taken, what it pulls in, what must be, what may not be."""

from __future__ import annotations

import math
from bisect import bisect_right
from collections.abc import Iterable
from dataclasses import dataclass
from decimal import Decimal
from functools import lru_cache

from shopflow.catalogue.models import Remedy
from shopflow.common.refusals import Refused
from shopflow.compute.errors import ComputeError
from shopflow.compute.scope import Choice, Fit, Question, ask, fit

from .weighing import Weighed, Weighing

MOST_MONEY = Decimal(10_000_000)
MOST_STEPS = 20_000

# A question in words that never change, so that it can be known again.
Ids = tuple[str, ...]
Choices = tuple[Choice, ...]
Pulls = tuple[tuple[str, Ids], ...]
Groups = tuple[Ids, ...]
Put = tuple[Choices, Pulls, Groups, Ids]


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
    least: Fit
    musts: tuple[Weighed, ...]
    bonus: float

    def fit(self, budget: Decimal) -> Fit:
        """The best set whose price keeps the budget; TooLittle if what must be done does not."""
        money = self.weighing.reckoner.prices.steps_within(budget)
        if self.least.cost > money:
            raise TooLittle(
                self.weighing.price(self.least.cost), self._needed(), self.weighing.terms.currency
            )
        return self.question.fit(money)

    def worth(self, benefit: float) -> float:
        """What a set is worth without the bonus that makes sure of what must be done."""
        return benefit - self.bonus * len(self.musts)

    def outline(self, points: int) -> list[tuple[Decimal, float]]:
        """Price and worth of at most so many steps, from what must be done up to all that helps."""
        known: dict[Decimal, float] = {}
        for cost, benefit in _whole_outline(self.question):
            if self.worth(benefit) > -0.05:
                price = self.weighing.price(cost)
                known[price] = max(known.get(price, 0.0), self.worth(benefit))
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
    open_ones = [one for one in weighing.mendable if wishes.of(one) != "leave"]
    worths = {
        _id(one, remedy.pk): weighing.benefit(one, remedy) for one in open_ones for remedy in one.remedies
    }
    bonus = math.ceil(sum(worths.values())) + 1.0
    insist = _sure(weighing, musts, wishes)
    least = _least(*_put(weighing, musts, wishes, dict.fromkeys(worths, 1.0), insist))
    sure = {_id(one, remedy.pk): bonus for one in musts for remedy in one.remedies}
    for id in worths:
        worths[id] = round(worths[id] + sure.get(id, 0.0), 1)
    question = _question(*_put(weighing, open_ones, wishes, worths, insist))
    return Asked(weighing, question, least, tuple(musts), bonus)


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


def _sure(weighing: Weighing, musts: list[Weighed], wishes: Wishes) -> list[str]:
    """What is in whatever is chosen: what every job has, and what all remedies of a must have in common."""
    sure = {one.pk for one in weighing.every_job}
    for one in musts:
        sure |= set.intersection(*(weighing.all_needed([remedy]) for remedy in _fitting(one, wishes)))
    return [f"op:{pk}" for pk in sorted(sure)]


def _fitting(one: Weighed, wishes: Wishes) -> list[Remedy]:
    only = wishes.of(one)
    return [remedy for remedy in one.remedies if only in ("", "must", str(remedy.pk))]


def _put(
    weighing: Weighing,
    open_ones: Iterable[Weighed],
    wishes: Wishes,
    worths: dict[str, float],
    insist: list[str],
) -> Put:
    choices: list[Choice] = []
    requires: dict[str, Iterable[str]] = {}
    exclusive = []
    for one in open_ones:
        fitting = _fitting(one, wishes)
        for remedy in fitting:
            id = _id(one, remedy.pk)
            choices.append(Choice(id, Decimal(0), worths[id]))
            requires[id] = [f"op:{operation.pk}" for operation in weighing.operations_of(remedy)]
        exclusive.append(tuple(_id(one, remedy.pk) for remedy in fitting))
    for operation in weighing.reckoner.operations.values():
        choices.append(Choice(f"op:{operation.pk}", weighing.line(operation).price))
        requires[f"op:{operation.pk}"] = [f"op:{other.pk}" for other in weighing.needed_by(operation)]
    pulls = tuple((id, tuple(sorted(needed))) for id, needed in requires.items())
    return tuple(choices), pulls, tuple(exclusive), tuple(insist)


@lru_cache(maxsize=4)
def _question(choices: Choices, pulls: Pulls, exclusive: Groups, insist: Ids) -> Question:
    """Thought through once: while only the budget moves, the same question is asked again and again."""
    return ask(choices, dict(pulls), exclusive, insist=insist)


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


@lru_cache(maxsize=32)
def _least(choices: Choices, pulls: Pulls, exclusive: Groups, insist: Ids) -> Fit:
    return fit(choices, MOST_MONEY, dict(pulls), exclusive, insist=insist)


def _id(one: Weighed, remedy: int) -> str:
    return f"{one.pk}:{remedy}"


def _about(wish: str) -> str:
    return wish.partition(":")[0]
