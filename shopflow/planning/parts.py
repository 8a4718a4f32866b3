"""Which parts of a piano a task has to itself: no two benches can be planned on one body at a time."""

from __future__ import annotations

from collections.abc import Collection, Iterable, Mapping
from dataclasses import dataclass, field

from shopflow.catalogue.knowledge import knowledge
from shopflow.catalogue.models import Kind
from shopflow.compute.worknet import Knowledge
from shopflow.workshop.models import Task

# What work in own words holds where nobody said otherwise.
WHOLE_CASE = frozenset({"body", "loose"})
# Paper is written at any desk, by as many as like.
SHARED = frozenset({"desk"})
WORDS = {
    "body": "the back and case",
    "loose": "the loose case parts",
    "plate": "the plate",
    "panels": "the panels",
    "hardware": "the hardware",
    "hammers": "the hammers",
    "wippens": "the wippens",
    "dampers": "the dampers",
    "keys": "the keys",
    "keyframe": "the key frame",
    "pedals": "the pedals",
}


@dataclass(frozen=True, slots=True)
class Parts:
    """What the shop's catalogue knows of who holds what, of each kind of piano."""

    known: Mapping[str, Knowledge] = field(default_factory=dict)

    @classmethod
    def read(cls, kinds: Iterable[str] = tuple(Kind.values)) -> Parts:
        return cls({kind: knowledge(kind) for kind in sorted(kinds)})

    def held_by(self, task: Task) -> frozenset[str]:
        """What nobody else can have while this task has it."""
        if task.operation is None:
            return WHOLE_CASE
        return self.known[task.instrument.kind].parts_of(task.operation.code) - SHARED

    def rest_keeps(self, task: Task) -> bool:
        """Clamps and cure keep the parts; strings that settle and goods on order leave them to others."""
        if task.operation is None:
            return False
        return self.known[task.instrument.kind].rest_holds(task.operation.code)


def in_words(parts: Collection[str]) -> str:
    """
    >>> in_words({"keys", "body"})
    'the back and case, the keys'
    """
    return ", ".join(words for part, words in WORDS.items() if part in parts) or ", ".join(sorted(parts))
