"""A weighing in the words of `compute/scope`: what may be taken, by which rules, and what excludes what.

A choice is a remedy, "finding:remedy" by their keys, which costs nothing, or an operation, "op:key", which is
worth nothing. A remedy is had by its own operations or by work that makes them needless.
"""

from __future__ import annotations

from collections.abc import Collection, Iterable, Mapping
from dataclasses import dataclass
from decimal import Decimal
from functools import lru_cache

from shopflow.catalogue.models import Operation, Remedy
from shopflow.compute.scope import Choice
from shopflow.compute.worknet import Knowledge

from .weighing import Weighed, Weighing

Ids = tuple[str, ...]
Rules = tuple[tuple[Ids, Ids], ...]
# Codes of operations with their names as choices.
Named = tuple[tuple[str, str], ...]


@dataclass(frozen=True, slots=True)
class Put:
    """A question in words that never change, so that it can be known again."""

    choices: tuple[Choice, ...]
    exclusive: tuple[Ids, ...]
    rules: Rules


def put(
    weighing: Weighing,
    offered: Mapping[int, Collection[Remedy]],
    worths: Mapping[str, float],
    musts: Iterable[Weighed] = (),
) -> Put:
    """By finding the remedies on offer; of each of the `musts` one has to be in."""
    work = _Work(weighing)
    choices, exclusive, rules = list[Choice](), list[Ids](), list[tuple[Ids, Ids]]()
    for finding, remedies in offered.items():
        ids = tuple(remedy_id(finding, remedy) for remedy in remedies)
        choices += [Choice(id, Decimal(0), worths[id]) for id in ids]
        exclusive.append(ids)
        for id, remedy in zip(ids, remedies, strict=True):
            rules += [((id,), work.had_by(one)) for one in weighing.operations_of(remedy)]
    rules += [((), tuple(remedy_id(one.pk, remedy) for remedy in offered[one.pk])) for one in musts]
    choices += [Choice(operation_id(one), weighing.line(one).price) for one in work.operations.values()]
    return Put(tuple(choices), (*exclusive, *work.clashes()), (*rules, *work.rules()))


def remedy_id(finding: int, remedy: Remedy) -> str:
    return f"{finding}:{remedy.pk}"


def operation_id(operation: Operation) -> str:
    return f"op:{operation.pk}"


def operations_in(ids: Iterable[str]) -> set[int]:
    """The keys of the operations among these choices."""
    return {int(id.partition(":")[2]) for id in ids if id.startswith("op:")}


class _Work:
    """The operations of the shop by their codes, and what is known of them, as choices."""

    def __init__(self, weighing: Weighing) -> None:
        self.knowledge = weighing.knowledge
        self.operations = weighing.reckoner.by_code
        self.ids = {code: operation_id(one) for code, one in self.operations.items()}
        self.named = tuple(self.ids.items())
        self.every_job = tuple(weighing.reckoner.every_job)

    def had_by(self, operation: Operation) -> Ids:
        if operation.code not in self.knowledge.codes:
            return (operation_id(operation),)
        return (operation_id(operation), *_ids(sorted(self.knowledge.instead_of(operation.code)), self.ids))

    def rules(self) -> Rules:
        return _rules(self.knowledge, self.named, self.every_job)

    def clashes(self) -> tuple[Ids, ...]:
        return _clashes(self.knowledge, self.named)


@lru_cache(maxsize=4)
def _rules(knowledge: Knowledge, named: Named, every_job: Ids) -> Rules:
    """What every job has, and what follows from what; read once for a catalogue."""
    ids = dict(named)
    known: list[tuple[Ids, Ids]] = [((), _ids([code], ids)) for code in every_job]
    for rule in knowledge.rules():
        if rule.body <= ids.keys():
            known.append((_ids(sorted(rule.body), ids), _ids(rule.adds, ids)))
    return tuple(known)


@lru_cache(maxsize=4)
def _clashes(knowledge: Knowledge, named: Named) -> tuple[Ids, ...]:
    ids = dict(named)
    pairs = (_ids(pair, ids) for pair in knowledge.hard_clashes())
    return tuple(pair for pair in pairs if len(pair) > 1)


def _ids(codes: Iterable[str], ids: Mapping[str, str]) -> Ids:
    return tuple(ids[code] for code in codes if code in ids)
