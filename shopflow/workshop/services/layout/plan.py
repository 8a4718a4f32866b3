"""What a job is to consist of and in which order, before anything is written: from the state of the piano."""

from __future__ import annotations

from collections.abc import Collection, Iterable, Mapping, Sequence
from dataclasses import dataclass
from typing import TypeVar

from shopflow.catalogue.knowledge import knowledge
from shopflow.catalogue.models import Operation
from shopflow.common.refusals import Refused
from shopflow.compute import network
from shopflow.compute.errors import ComputeError
from shopflow.compute.worknet import Knowledge, Tie

from .tasks import with_relations

Node = TypeVar("Node", str, int)


@dataclass(frozen=True, slots=True)
class JobPlan:
    """A whole job: operations in an order of work, why each unnamed one is among them, what waits for what.

    `ties` are (code, code, reason); `in_vain` is what was named and is not done, with its sentence.
    """

    operations: list[Operation]
    why: Mapping[str, str]
    ties: list[tuple[str, str, str]]
    in_vain: tuple[tuple[str, str], ...] = ()


def plan_job(operations: Sequence[Operation], *, kind: str, done: Collection[str] = ()) -> JobPlan:
    """The whole job that these operations ask for on a piano as found; what is `done` is not done again."""
    named = with_relations(operations, kind=kind)
    known = knowledge(kind)
    codes = [one.code for one in named]
    asked = [code for code in codes if code in known.codes]
    try:
        whole = known.complete({*asked, *(code for code in done if code in known.codes)})
    except ComputeError as error:
        raise Refused(f"This work contradicts itself: {error}") from error
    lost = {code for code, _ in whole.in_vain}
    job = {*whole.operations, *codes} - set(done) - lost
    ties = known.order(job & known.codes)
    everything = with_relations(named, kind=kind, codes=job - set(codes))
    by_code = {one.code: one for one in everything if one.code in job}
    line = in_order_of_work([code for code in codes if code in by_code], by_code, _pairs(ties))
    return JobPlan(
        operations=[by_code[code] for code in line],
        why={code: why_of(whole.reasons, code) for code in by_code if code not in codes},
        ties=[(tie.before, tie.after, tie.reason) for tie in ties],
        in_vain=whole.in_vain,
    )


def tie_as_named(codes: Iterable[str], known: Knowledge) -> list[tuple[str, str, str]]:
    """What waits for what among these alone, on a piano as found; nothing is added."""
    ties = known.order({code for code in codes if code in known.codes})
    return [(tie.before, tie.after, tie.reason) for tie in ties]


def why_of(reasons: Mapping[str, Sequence[str]], code: str) -> str:
    """The reasons for one operation as sentences.

    >>> why_of({"chip": ("“String” needs a tuning", "no piano leaves untuned")}, "chip")
    '“String” needs a tuning; no piano leaves untuned'
    """
    return "; ".join(reasons.get(code, ())[:3])


def in_order_of_work(
    named: Sequence[str], everything: Iterable[str], pairs: Iterable[tuple[str, str]]
) -> list[str]:
    """As they were named, as far as ties allow; the rest just before what waits for it, else just after.

    >>> in_order_of_work(["string", "case on"], ["case on", "off", "string", "tune"],
    ...                  [("off", "string"), ("string", "tune")])
    ['off', 'string', 'tune', 'case on']
    """
    ties = list(pairs)
    places = {code: float(place) for place, code in enumerate(named)}
    rest = sorted(code for code in everything if code not in places)
    for code in rest:
        later = [places[one] for one in reached(code, ties) if one in named]
        earlier = [places[one] for one in reached(code, [(b, a) for a, b in ties]) if one in named]
        places[code] = min(later) - 0.5 if later else max(earlier, default=len(named)) + 0.5
    return network.order(ties, jobs=sorted(places, key=lambda code: (places[code], code)))


def reached(start: Node, pairs: Iterable[tuple[Node, Node]]) -> set[Node]:
    """Everything that comes after `start`, through any number of ties.

    >>> sorted(reached("a", [("a", "b"), ("b", "c"), ("d", "c")]))
    ['b', 'c']
    """
    after: dict[Node, list[Node]] = {}
    for before, then in pairs:
        after.setdefault(before, []).append(then)
    found, waiting = set[Node](), [start]
    while waiting:
        for then in after.get(waiting.pop(), ()):
            if then not in found:
                found.add(then)
                waiting.append(then)
    return found


def _pairs(ties: Iterable[Tie]) -> list[tuple[str, str]]:
    return [(tie.before, tie.after) for tie in ties]
