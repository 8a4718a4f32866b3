"""What came out of a weighing, ready to be shown: what is in, what is left, what a little more would buy."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from decimal import Decimal
from itertools import groupby

from shopflow.catalogue.models import Department, Operation, Remedy
from shopflow.compute.scope import Fit, NextStep
from shopflow.offers.pricing import Line, Range, together
from shopflow.offers.selectors.reasons import reasons_for

from .choices import Asked, Wishes
from .later import Later, later_prices
from .put import operations_in
from .weighing import Weighed, Weighing


@dataclass(frozen=True, slots=True)
class Mended:
    """A finding that is mended, by which remedy, and whether somebody insisted on it.

    `comes_with` is other work of the scope by which it is mended, where none of its remedy is done for it.
    """

    one: Weighed
    remedy: Remedy
    wish: str
    comes_with: Operation | None = None


@dataclass(frozen=True, slots=True)
class Work:
    """An operation of the scope, the findings that it helps to cure, and those that are mended by the way.

    `why` it came along, where no finding asked for it.
    """

    line: Line
    cures: tuple[Weighed, ...]
    by_the_way: tuple[Weighed, ...]
    why: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class Bench:
    """What one department has to do."""

    department: Department
    works: list[Work]

    @property
    def hours(self) -> Decimal:
        return sum((work.line.hours for work in self.works), Decimal(0))

    @property
    def cost(self) -> Decimal:
        return sum((work.line.cost for work in self.works), Decimal(0))

    @property
    def price(self) -> Decimal:
        return sum((work.line.price for work in self.works), Decimal(0))


@dataclass(frozen=True, slots=True)
class Left:
    """A finding that is left: why, what to expect, and what mending it would add now and cost later."""

    one: Weighed
    wish: str
    later: Later | None


@dataclass(frozen=True, slots=True)
class OtherWay:
    """A finding that is mended by another remedy than before."""

    one: Weighed
    before: Remedy
    after: Remedy


@dataclass(frozen=True, slots=True)
class Step:
    """The least more money that buys a better scope: what comes in, what goes out, what it rides on."""

    extra: Decimal
    price: Decimal
    share: float
    comes: list[Mended]
    goes: list[Mended]
    other_ways: list[OtherWay]
    because: list[Operation]

    @property
    def is_short(self) -> bool:
        """May it be said in one sentence?"""
        return len(self.comes) + len(self.goes) + len(self.other_ways) <= 3


@dataclass(frozen=True, slots=True)
class Plus:
    """One more finding on top of all that is in: the most for its money."""

    one: Weighed
    remedy: str
    extra: Decimal
    price: Decimal
    because: list[Operation]


@dataclass(frozen=True, slots=True)
class Answer:
    budget: Decimal
    fit: Fit
    price: Decimal
    cost: Decimal
    hours: Decimal
    price_range: Range
    share: float
    mended: list[Mended]
    benches: list[Bench]
    left: list[Left]
    step: Step | None
    plus: Plus | None

    @property
    def chosen(self) -> list[str]:
        """Findings with their remedies, by their keys: what is kept and offered."""
        return [id for id in self.fit.chosen if not id.startswith("op:")]

    @property
    def work(self) -> list[str]:
        """The codes of all the work in it."""
        return [work.line.operation.code for bench in self.benches for work in bench.works]

    @property
    def is_proven(self) -> bool:
        return self.fit.is_proven

    @property
    def margin(self) -> Decimal:
        return self.price - self.cost

    @property
    def room(self) -> Decimal:
        return self.budget - self.price

    @property
    def rides(self) -> list[Left]:
        """What is left and is cheap only now, the most saved first."""
        cheap = [one for one in self.left if one.later and one.later.is_cheap_only_now]
        return sorted(cheap, key=lambda one: one.later.saved if one.later else Decimal(0), reverse=True)


def answer(asked: Asked, wishes: Wishes, budget: Decimal) -> Answer:
    """The best scope for this money; TooLittle if it does not reach for what must be done."""
    weighing, found = asked.weighing, asked.fit(budget)
    mended = _mended(weighing, wishes, found.chosen)
    works = _works(weighing, found, mended)
    lines = [work.line for work in works]
    there = {one.one.pk for one in mended}
    left = [one for one in weighing.mendable if one.pk not in there]
    later = later_prices(weighing, found.chosen, left)
    return Answer(
        budget=budget,
        fit=found,
        price=weighing.price(found.cost),
        cost=sum((line.cost for line in lines), Decimal(0)),
        hours=sum((line.hours for line in lines), Decimal(0)),
        price_range=together(line.price_range for line in lines),
        share=_share(asked, found.benefit),
        mended=mended,
        benches=_benches(works),
        left=[Left(one, wishes.of(one), later.get(one.pk)) for one in left],
        step=_step(asked, wishes, found, budget) if found.next_step else None,
        plus=_plus(weighing, found, [one for one in left if wishes.of(one) != "leave"], later, budget),
    )


def _mended(weighing: Weighing, wishes: Wishes, ids: Iterable[str]) -> list[Mended]:
    ids = tuple(ids)
    taken = dict(id.split(":") for id in ids if not id.startswith("op:"))
    chosen = {weighing.reckoner.operations[pk].code for pk in operations_in(ids)}
    known = {str(remedy.pk): remedy for one in weighing.mendable for remedy in one.remedies}
    rows = []
    for one in weighing.mendable:
        if str(one.pk) in taken:
            remedy = known[taken[str(one.pk)]]
            rows.append(Mended(one, remedy, wishes.of(one), _comes_with(weighing, remedy, chosen)))
    return rows


def _comes_with(weighing: Weighing, remedy: Remedy, chosen: set[str]) -> Operation | None:
    """Other work of the scope that makes all of a remedy's own work needless."""
    own = weighing.operations_of(remedy)
    if any(one.code in chosen for one in own):
        return None
    others = sorted({code for one in own for code in _instead(weighing, one) & chosen})
    return weighing.reckoner.by_code[others[0]] if others else None


def _instead(weighing: Weighing, operation: Operation) -> frozenset[str]:
    known = weighing.knowledge
    return known.instead_of(operation.code) if operation.code in known.codes else frozenset()


def _works(weighing: Weighing, found: Fit, mended: list[Mended]) -> list[Work]:
    known, chosen = weighing.reckoner.operations, operations_in(found.chosen)
    codes = {known[pk].code for pk in chosen}
    cures: dict[str, list[Weighed]] = {}
    by_the_way: dict[str, list[Weighed]] = {}
    for one in mended:
        for operation in weighing.operations_of(one.remedy):
            if operation.code in codes:
                cures.setdefault(operation.code, []).append(one.one)
        if one.comes_with:
            by_the_way.setdefault(one.comes_with.code, []).append(one.one)
    why = reasons_for(weighing.knowledge, codes)
    rows = sorted((known[pk] for pk in chosen), key=lambda one: (one.department.position, one.pk))
    return [
        Work(
            weighing.line(one),
            tuple(cures.get(one.code, ())),
            tuple(by_the_way.get(one.code, ())),
            why.get(one.code, ()),
        )
        for one in rows
    ]


def _benches(works: list[Work]) -> list[Bench]:
    by_bench = groupby(works, key=lambda work: work.line.operation.department)
    return [Bench(department, list(rows)) for department, rows in by_bench]


def _share(asked: Asked, benefit: float) -> float:
    """How much of all harm that was found is taken away, in per cent."""
    whole = asked.weighing.whole_harm
    return 100 * benefit / whole if whole else 0.0


def _step(asked: Asked, wishes: Wishes, found: Fit, budget: Decimal) -> Step:
    step: NextStep = found.next_step  # type: ignore[assignment]
    weighing = asked.weighing
    comes = _mended(weighing, wishes, step.comes_in)
    goes = {one.one.pk: one for one in _mended(weighing, wishes, step.goes_out)}
    other_ways = [
        OtherWay(one.one, goes[one.one.pk].remedy, one.remedy) for one in comes if one.one.pk in goes
    ]
    changed = {one.one.pk for one in other_ways}
    price = weighing.price(step.cost)
    return Step(
        extra=price - budget,
        price=price,
        share=_share(asked, step.benefit),
        comes=[one for one in comes if one.one.pk not in changed],
        goes=[one for pk, one in goes.items() if pk not in changed],
        other_ways=other_ways,
        because=_open_anyway(weighing, operations_in(found.chosen), [one.remedy for one in comes]),
    )


def _plus(
    weighing: Weighing, found: Fit, left: list[Weighed], later: dict[int, Later], budget: Decimal
) -> Plus | None:
    """Of what is left, by its lightest remedy, the most harm taken away for what it adds."""
    worth = {one.pk: weighing.benefit(one, later[one.pk].remedy) for one in left if one.pk in later}
    useful = [one for one in left if worth.get(one.pk) and later[one.pk].now]
    if not useful:
        return None
    best = max(useful, key=lambda one: worth[one.pk] / float(later[one.pk].now))
    remedy, more = later[best.pk].remedy, later[best.pk].now
    price = weighing.price(found.cost) + more
    because = _open_anyway(weighing, operations_in(found.chosen), [remedy])
    return Plus(best, remedy.name, price - budget, price, because)


def _open_anyway(weighing: Weighing, chosen: set[int], remedies: list[Remedy]) -> list[Operation]:
    """What opens the way for these and is in the scope already: the last of each chain of openings."""
    known = weighing.reckoner.operations
    there = {known[pk].code for pk in chosen}
    asked = {one.code for remedy in remedies for one in weighing.operations_of(remedy)}
    opened = _opens_the_way(weighing, asked, there)
    before = _opens_the_way(weighing, opened, opened)
    by_code = weighing.reckoner.by_code
    return sorted((by_code[code] for code in opened - before), key=lambda one: one.pk)


def _opens_the_way(weighing: Weighing, asked: set[str], there: set[str]) -> set[str]:
    """What of all that is there opens a line of state as far as something asked needs it."""
    knowledge = weighing.knowledge
    works = [knowledge.work(code) for code in there if code in knowledge.codes]
    return {
        opener.code
        for code in asked & knowledge.codes
        for line, most in knowledge.work(code).at_most.items()
        for opener in works
        if opener.code not in asked and opener.opens.get(line, most + 1) <= most
    }
