"""The whole job: what was asked for, opened, closed again and brought back to where a piano may leave."""

from __future__ import annotations

import heapq
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, field

from shopflow.compute.worknet.clashing import Clashes
from shopflow.compute.worknet.model import Work
from shopflow.compute.worknet.rules import Rule

MOST_SETS = 5_000


@dataclass(frozen=True, slots=True)
class Choice:
    """A rule that several operations could meet: why, which, and which was taken."""

    why: str
    heads: tuple[str, ...]
    taken: str


@dataclass(frozen=True, slots=True)
class Completed:
    """A whole job. `in_vain` was asked for and is answered by other work in it, each with its sentence."""

    operations: tuple[str, ...]
    reasons: Mapping[str, tuple[str, ...]] = field(default_factory=dict)
    choices: tuple[Choice, ...] = ()
    in_vain: tuple[tuple[str, str], ...] = ()
    unmended: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True)
class Found:
    """The cheapest set that keeps all rules, and the rules that brought each addition."""

    job: frozenset[str]
    brought: Mapping[str, tuple[Rule, ...]]


class Completer:
    """Finds cheapest whole jobs under one set of rules; made once for a state of the piano."""

    def __init__(self, works: Mapping[str, Work], rules: Sequence[Rule], clashes: Clashes) -> None:
        self.works, self.rules, self.clashes = works, rules, clashes
        self.always = [rule for rule in rules if not rule.body]
        self.about: dict[str, list[Rule]] = {code: [] for code in works}
        for rule in rules:
            for code in rule.body:
                self.about[code].append(rule)

    def complete(self, job: Iterable[str], demands: Iterable[Rule] = ()) -> Found | None:
        """The cheapest set with all of `job` that keeps all rules and demands; None if there is none.

        A rule with one head is followed at once; where there is a choice, the cheapest set so far goes on.
        Every whole job meets an unmet rule by one of its heads: the first set without one is the cheapest.
        """
        demanded = [*self.always, *demands]
        first = self._closed(frozenset(), job, {}, demanded)
        queue = [(self._cost(first.job), 0, first)] if first else []
        seen, tried = set[frozenset[str]](), 0
        while queue and tried < MOST_SETS:
            _, _, found = heapq.heappop(queue)
            if found.job in seen:
                continue
            seen.add(found.job)
            rule = self._open_choice(found.job, demanded)
            if rule is None:
                return found
            for head in rule.adds:
                following = self._closed(found.job, [head], {**found.brought}, demanded, rule)
                if following is not None:
                    tried += 1
                    heapq.heappush(queue, (self._cost(following.job), tried, following))
        return None

    def _closed(
        self,
        present: frozenset[str],
        coming: Iterable[str],
        brought: dict[str, tuple[Rule, ...]],
        demanded: Sequence[Rule],
        because: Rule | None = None,
    ) -> Found | None:
        """This set with all that rules of one head bring; None where two of them contradict each other."""
        job, waiting = set(present), [(code, because) for code in coming]
        if not present:
            waiting += [(rule.adds[0], rule) for rule in demanded if _has_one(rule, job)]
        while waiting:
            code, rule = waiting.pop()
            if code in job:
                continue
            if not self.clashes.hard[code].isdisjoint(job):
                return None
            job.add(code)
            if rule is not None:
                brought[code] = (rule,)
            for other in self.about[code]:
                if other.body <= job and _has_one(other, job):
                    waiting.append((other.adds[0], other))
        return Found(frozenset(job), brought)

    def _open_choice(self, job: frozenset[str], demanded: Sequence[Rule]) -> Rule | None:
        for rule in demanded:
            if not rule.is_met_by(job):
                return rule
        for code in sorted(job):
            for rule in self.about[code]:
                if not rule.is_met_by(job):
                    return rule
        return None

    def _cost(self, job: frozenset[str]) -> float:
        return sum(self.works[code].cost for code in job)

    def without_covered(self, found: Found, demands: Sequence[Rule] = ()) -> Found:
        """The same without what other work in it covers, where all rules are kept without it, too."""
        job = found.job
        for code in sorted(job):
            is_covered = any(code in self.works[other].covers for other in job if other != code)
            rest = job - {code}
            if is_covered and all(rule.is_met_by(rest) for rule in (*self.rules, *_but(demands, code))):
                job = rest
        return Found(job, {code: rules for code, rules in found.brought.items() if code in job})

    def demand(self, code: str, why: str) -> Rule:
        """Asked for loosely: this operation, or whatever makes it needless."""
        heads = (code, *(i for i in sorted(self.clashes.instead_of(code)) if not self.works[i].retired))
        return Rule(frozenset(), heads, why, adds=heads)


def _has_one(rule: Rule, job: set[str]) -> bool:
    """Whether only one operation can be added to meet this rule, and the job meets it in no other way."""
    return len(rule.adds) == 1 and not any(head in job for head in rule.heads)


def _but(demands: Sequence[Rule], code: str) -> list[Rule]:
    return [rule for rule in demands if rule.heads != (code,)]
