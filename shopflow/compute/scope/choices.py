"""What may be chosen and what is wished for, checked at the door; money in whole cents from here on."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from decimal import Decimal
from itertools import combinations

from shopflow.compute.errors import ComputeError
from shopflow.compute.guards import number, some

Requires = Mapping[str, Iterable[str]]
Exclusive = Iterable[Iterable[str]]
# If all of the first are in, one of the second must be.
Rules = Iterable[tuple[Iterable[str], Iterable[str]]]

MOST_MONEY = Decimal(10_000_000)
MOST_CHOICES = 1_000
CENT = Decimal("0.01")


@dataclass(frozen=True, slots=True)
class Choice:
    """One repair or replacement that may be done, or an enabling operation (benefit 0) that others need.

    Parameters: `id` its name; `cost` money, whole cents, 0 to 10,000,000, as Decimal or whole number;
    `benefit` how much it is worth, 0 to 1,000,000,000, in any unit that all choices share.
    Errors: ComputeError for an empty name, for money as a float or finer than a cent, for NaN or infinity.

    >>> Choice("recap the bass bridge", Decimal("840.00"), 7.5).cost
    Decimal('840.00')
    """

    id: str
    cost: Decimal
    benefit: float = 0.0

    def __post_init__(self) -> None:
        if not isinstance(self.id, str) or not self.id.strip():
            raise ComputeError("id", self.id, "a name that is not empty")
        object.__setattr__(self, "cost", money(f"cost of {self.id}", self.cost))
        worth = number(f"benefit of {self.id}", self.benefit, at_least=0, at_most=1e9)
        object.__setattr__(self, "benefit", worth)


def money(field: str, given: object) -> Decimal:
    """Hand back money as an exact Decimal, or say what is wrong with it (a float is not exact money).

    >>> money("budget", 1200)
    Decimal('1200')
    """
    allowed = f"a Decimal of whole cents, at least 0 and at most {MOST_MONEY:,}"
    if isinstance(given, bool) or not isinstance(given, (Decimal, int)):
        raise ComputeError(field, given, allowed)
    sum_of_money = Decimal(given)
    if not sum_of_money.is_finite() or not 0 <= sum_of_money <= MOST_MONEY or sum_of_money % CENT:
        raise ComputeError(field, given, allowed)
    return abs(sum_of_money)  # Minus nothing is nothing.


@dataclass(frozen=True, slots=True)
class Rule:
    """If all of `body` are in, one of `heads` must be: with no body it must in any case, with no heads never.

    "Needs", "is in by wish" and "stays out" are rules as well, so that there is one kind of thing to keep.
    """

    body: frozenset[str]
    heads: frozenset[str]

    def holds(self, taken: frozenset[str]) -> bool:
        """Does a set keep it?"""
        return not self.body <= taken or bool(self.heads & taken)


@dataclass(frozen=True, slots=True)
class Wishes:
    """Everything that is asked, checked: the rules that every set keeps, the groups that exclude."""

    choices: tuple[Choice, ...]
    rules: tuple[Rule, ...]
    exclusive: tuple[frozenset[str], ...]
    insisted: frozenset[str]

    def cost(self, ids: Iterable[str]) -> Decimal:
        """What a set of choices costs, each paid once, exactly."""
        wanted = set(ids)
        return sum((each.cost for each in self.choices if each.id in wanted), Decimal(0))

    def in_order(self, ids: Iterable[str]) -> tuple[str, ...]:
        """The same ids in the order in which the choices were given."""
        wanted = set(ids)
        return tuple(each.id for each in self.choices if each.id in wanted)


def read(
    choices: Iterable[Choice],
    requires: Requires,
    exclusive: Exclusive,
    insist: Iterable[str],
    refuse: Iterable[str],
    rules: Rules = (),
) -> Wishes:
    """Check all that was asked and follow every requirement to its end; ComputeError where it cannot be."""
    known = _distinct(choices)
    _known("requires", requires, known)
    needed = [Rule(frozenset([id]), frozenset([other])) for id, others in requires.items()
              for other in _known("requires", others, known)]  # fmt: skip
    asked = [
        Rule(frozenset(_known("rules", body, known)), frozenset(_known("rules", heads, known)))
        for body, heads in rules
    ]
    groups = tuple(frozenset(_known("exclusive", group, known)) for group in exclusive)
    wanted, refused = _known("insist", insist, known), set(_known("refuse", refuse, known))
    pulls = _pulls(wanted, [*needed, *asked])
    _no_refused_work(wanted, refused, pulls)
    insisted = frozenset().union(*pulls.values())
    _no_two_of_a_kind(wanted, insisted, groups, pulls)
    settled = [Rule(frozenset(), frozenset([id])) for id in wanted]
    settled += [Rule(frozenset([id]), frozenset()) for id in sorted(refused)]
    kept = [rule for rule in dict.fromkeys([*needed, *asked, *settled]) if not rule.body & rule.heads]
    return Wishes(tuple(known.values()), tuple(kept), groups, insisted)


def _distinct(choices: Iterable[Choice]) -> dict[str, Choice]:
    known: dict[str, Choice] = {}
    for choice in some("choices", choices, at_least=0, at_most=MOST_CHOICES):
        if not isinstance(choice, Choice):
            raise ComputeError("choices", choice, "a list of Choice")
        if choice.id in known:
            raise ComputeError("choices", choice.id, "each id once")
        known[choice.id] = choice
    return known


def _known(field: str, ids: Iterable[str], known: Mapping[str, Choice]) -> list[str]:
    listed = some(field, ids, at_least=0)
    for id in listed:
        if not isinstance(id, str) or id not in known:
            raise ComputeError(field, id, "an id that stands among the choices")
    return listed


def _pulls(wanted: list[str], rules: Iterable[Rule]) -> dict[str, frozenset[str]]:
    """What each wish brings in whatever is chosen; a circle of requirements simply comes together."""
    needs: dict[str, set[str]] = {}
    for rule in rules:
        if len(rule.body) == len(rule.heads) == 1:
            needs.setdefault(min(rule.body), set()).update(rule.heads)
    return {id: _all_needed(id, needs) for id in wanted}


def _all_needed(id: str, needs: Mapping[str, set[str]]) -> frozenset[str]:
    found, to_visit = {id}, [id]
    while to_visit:
        fresh = needs.get(to_visit.pop(), set()) - found
        found |= fresh
        to_visit += fresh
    return frozenset(found)


def _no_refused_work(wanted: list[str], refused: set[str], pulls: Mapping[str, frozenset[str]]) -> None:
    for id in wanted:
        if id in refused:
            raise ComputeError("insist", id, "work that is not refused as well")
        for lost in sorted(pulls[id] & refused):
            raise ComputeError("insist", id, f"work that does not require {lost!r}, which is refused")


def _no_two_of_a_kind(
    wanted: list[str],
    insisted: frozenset[str],
    groups: tuple[frozenset[str], ...],
    pulls: Mapping[str, frozenset[str]],
) -> None:
    for group in groups:
        for one, other in combinations(sorted(group & insisted), 2):
            askers = [id for id in wanted if pulls[id] & {one, other}]
            raise ComputeError(
                "insist", askers, f"only one of {one!r} and {other!r}: they exclude each other"
            )
