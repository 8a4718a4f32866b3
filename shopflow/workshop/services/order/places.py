"""One body in one place: which parts of a piano a task holds, in words that a bench uses."""

from __future__ import annotations

from collections.abc import Collection, Mapping

from shopflow.catalogue.models import Stage
from shopflow.compute.worknet import Knowledge
from shopflow.workshop.models import Task

from .path import END_KINDS

# What work in own words holds where nobody said otherwise: the whole case.
WHOLE_CASE = ("body", "loose")
# Paper is written at any desk, by as many as like.
SHARED = frozenset({"desk"})
WORDS: Mapping[str, str] = {
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
NOTHING: frozenset[str] = frozenset()


def parts_of(task: Task, known: Knowledge | None) -> frozenset[str]:
    """The parts that nobody else can have while this task has them."""
    if task.at_the_owners:
        return NOTHING
    if task.operation is None:
        return frozenset(task.at or WHOLE_CASE)
    if known is None or task.operation.code not in known.codes:
        return NOTHING
    return known.parts_of(task.operation.code) - SHARED


def held_in(stage: Stage, task: Task, known: Knowledge | None) -> frozenset[str]:
    """The parts that the task has in this stage: in hand, to be checked, or resting on them."""
    if stage.kind in END_KINDS:
        return NOTHING
    if stage.kind == Stage.Kind.RESTING and not _rests_on_them(task, known):
        return NOTHING
    return parts_of(task, known)


def _rests_on_them(task: Task, known: Knowledge | None) -> bool:
    """Clamps and cure keep a part; strings that settle and parts on order do not."""
    operation = task.operation
    if operation is None or known is None or operation.code not in known.codes:
        return False
    return known.rest_holds(operation.code)


def in_words(parts: Collection[str]) -> str:
    """
    >>> in_words({"keys", "body"})
    'the back and case, the keys'
    """
    return ", ".join(words for part, words in WORDS.items() if part in parts) or ", ".join(sorted(parts))
