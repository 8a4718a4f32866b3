"""Ask the knowledge of the work for facts of the trade: `python -m tests.work_scenarios FILE`.

A file holds `scenarios`; each says what is `given` and which facts to `expect`. `given` is one of: `job`
(operations asked for) · `route` · `remedies` (codes) · `sequence` (signed in this order) · `level` with
`findings`. With `done_up_to` all that must come before these, and they themselves, are signed and the rest is
open; with `remedy` that is a change order at that moment. Every failing fact is printed, then a last line
`N of M facts hold`; the exit code is 1 if any fails.
"""

from __future__ import annotations

import json
import sys
from collections.abc import Callable, Iterable, Iterator, Mapping
from dataclasses import dataclass
from functools import cached_property
from pathlib import Path
from typing import Any

from shopflow.compute.network import order as in_line
from shopflow.compute.worknet import Extra, Knowledge
from tests.catalogue_data import data_from_fixtures

Fact = Any


@dataclass(frozen=True)
class Scenario:
    """One scenario before the knowledge of its kind of piano."""

    knowledge: Knowledge
    given: Mapping[str, Any]
    routes: Mapping[str, Mapping[str, Any]]

    @cached_property
    def asked(self) -> list[str]:
        if "route" in self.given:
            operations = self.routes[self.given["route"]]["operations"]
            return [code for code in operations if code in self.knowledge.codes]
        if "remedies" in self.given:
            return [code for remedy in self.given["remedies"] for code in self.knowledge.remedies[remedy]]
        return list(self.given.get("job", ()))

    @cached_property
    def job(self) -> frozenset[str]:
        if "level" in self.given:
            way = self.knowledge.level(self.given["level"], self.given["findings"])
            return frozenset(way.operations)
        return frozenset(self.knowledge.complete(self.asked).operations)

    @cached_property
    def earlier(self) -> dict[str, set[str]]:
        """For each operation of the job, all that comes before it through any chain."""
        direct: dict[str, set[str]] = {code: set() for code in self.job}
        for tie in self.knowledge.order(self.job):
            direct[tie.after].add(tie.before)
        chains: dict[str, set[str]] = {}
        for code in self._line:
            chains[code] = direct[code].union(*(chains[each] for each in direct[code]))
        return chains

    @cached_property
    def _line(self) -> list[str]:
        pairs = [(tie.before, tie.after) for tie in self.knowledge.order(self.job)]
        return in_line(pairs, jobs=sorted(self.job))

    @cached_property
    def done(self) -> list[str]:
        if "sequence" in self.given:
            return list(self.given["sequence"])
        ends = set(self.given.get("done_up_to", ()))
        signed = ends.union(*(self.earlier[code] for code in ends))
        return [code for code in self._line if code in signed]

    @cached_property
    def todo(self) -> list[str]:
        if "sequence" in self.given:
            return []
        return [code for code in self._line if code not in set(self.done)]

    @cached_property
    def extra(self) -> Extra:
        return self.knowledge.extra(self.done, self.todo, self.given["remedy"])

    @cached_property
    def in_vain(self) -> set[str]:
        if "remedy" in self.given:
            return set(self.extra.in_vain)
        return {code for code, _ in self.knowledge.in_vain(self.asked)}

    def share_a_part(self, a: str, b: str) -> bool:
        return not self.knowledge.parts_of(a).isdisjoint(self.knowledge.parts_of(b))

    def may(self, code: str) -> bool:
        return not self.knowledge.may_start(code, self.done, self.todo)

    def is_free(self, a: str, b: str) -> bool:
        return a not in self.earlier[b] and b not in self.earlier[a]

    def is_before(self, a: str, b: str) -> bool:
        return b in self.earlier and a in self.earlier[b]


CHECKS: dict[str, Callable[[Scenario, Fact], bool]] = {
    "has": lambda one, code: code in one.job,
    "has_not": lambda one, code: code not in one.job,
    "one_of": lambda one, codes: len(one.job.intersection(codes)) == 1,
    "before": lambda one, pair: one.is_before(*pair),
    "free": lambda one, pair: one.is_free(*pair),
    "clash": lambda one, pair: bool(one.knowledge.clashes(pair)),
    "no_clash": lambda one, pair: not one.knowledge.clashes(pair),
    "added": lambda one, code: code in one.extra.added,
    "added_exactly": lambda one, codes: one.extra.added == frozenset(codes),
    "added_one_of": lambda one, codes: len(one.extra.added.intersection(codes)) == 1,
    "not_added": lambda one, code: code not in one.extra.added,
    "again": lambda one, code: code in one.extra.again,
    "away": lambda one, code: code in one.extra.away,
    "in_vain": lambda one, code: code in one.in_vain,
    "touched": lambda one, code: code in one.extra.touched,
    "not_touched": lambda one, code: code not in one.extra.touched,
    "may": lambda one, code: one.may(code),
    "blocked": lambda one, code: not one.may(code),
    "claims": lambda one, line: line in one.knowledge.claims(one.done),
    "claims_not": lambda one, line: line not in one.knowledge.claims(one.done),
    "together": lambda one, pair: not one.share_a_part(*pair),
    "one_at_a_time": lambda one, pair: one.share_a_part(*pair),
}
# Facts whose whole list is one fact.
WHOLE = frozenset({"added_exactly"})


def failing(scenario: Mapping[str, Any], data: Mapping[str, Any]) -> Iterator[tuple[str, bool]]:
    """Each fact of one scenario in words, and whether it holds."""
    knowledge = _knowledge(data, scenario["kind"])
    one = Scenario(knowledge, scenario["given"], data["routes"])
    for name, facts in scenario["expect"].items():
        for fact in [facts] if name in WHOLE else facts:
            words = f"{scenario['id']} {name} {fact} ({scenario['kind']}, {dict(scenario['given'])})"
            yield words, CHECKS[name](one, fact)


_KNOWN: dict[tuple[int, str], Knowledge] = {}


def _knowledge(data: Mapping[str, Any], kind: str) -> Knowledge:
    key = (id(data), kind)
    if key not in _KNOWN:
        _KNOWN[key] = Knowledge.load(data, kind)
    return _KNOWN[key]


def facts_of(scenarios: Iterable[Mapping[str, Any]], data: Mapping[str, Any]) -> list[tuple[str, bool]]:
    return [fact for scenario in scenarios for fact in failing(scenario, data)]


def main(arguments: list[str]) -> int:
    if len(arguments) != 1:
        print("usage: python -m tests.work_scenarios FILE")
        return 2
    scenarios = json.loads(Path(arguments[0]).read_text(encoding="utf-8"))["scenarios"]
    facts = facts_of(scenarios, data_from_fixtures())
    for words, holds in facts:
        if not holds:
            print(f"does not hold: {words}")
    held = sum(holds for _, holds in facts)
    print(f"{held} of {len(facts)} facts hold")
    return 0 if held == len(facts) else 1


if __name__ == "__main__":
    sys.exit(main(sys.argv[1:]))
