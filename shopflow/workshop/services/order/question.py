"""The one question of the workshop: may this task take this step now, and if not, why, and what frees it."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from enum import StrEnum

from shopflow.catalogue.models import Stage
from shopflow.common.refusals import Refused
from shopflow.workshop.selectors.stay import Stay

from . import places, state
from .facts import Facts, Wait, read_facts
from .moments import in_words
from .path import Step, asks_for_reading, next_stage, stages_there_are


class Sort(StrEnum):
    """What kind of thing stands in the way."""

    HOUSE = "not in the house"
    PATH = "a stage left out"
    BACK = "no reason for going back"
    SNAG = "a snag"
    TIE = "other work first"
    STATE = "the piano is not ready for it"
    PLACE = "somebody else has it"
    REST = "it rests"
    PHOTO = "no photo"
    READING = "no reading"
    EYES = "second eyes"
    UNSAFE = "unsafe"
    PROOF = "no proof for the final check"


@dataclass(frozen=True, slots=True)
class Hindrance:
    """One thing in the way of a step, in a sentence, and what frees it."""

    sort: Sort
    words: str
    frees: str = ""

    @property
    def is_absolute(self) -> bool:
        """Nobody works on a piano that is not here, nor passes what is unsafe, whatever the reason."""
        return self.sort in {Sort.HOUSE, Sort.UNSAFE}

    def __str__(self) -> str:
        return f"{self.words} {self.frees}".strip()


def hindrances(step: Step, facts: Facts | None = None) -> list[Hindrance]:
    """Everything that stands in the way of this step; empty when it may be taken.

    One question for every door: taps, the rows of a bench, work brought in. Where no facts are given, they
    are read.
    """
    _refuse_outside_path(step)
    facts = facts or read_facts([step.task])
    if step.is_back:
        reason = [] if step.reason else [Hindrance(Sort.BACK, "Going back needs a reason.")]
        return [*reason, *_others_at_its_parts(step, facts)]
    asked = may_start if step.here.kind == Stage.Kind.RACKED else may_go_on
    return asked(step, facts)


def may_start(step: Step, facts: Facts) -> list[Hindrance]:
    """What stands in the way of taking it from the rack."""
    waits = [_tie(wait) for wait in facts.waits.get(step.task.pk, ())]
    return [
        *_not_in_the_house(step),
        *_left_out(step),
        *_open_snags(step, facts),
        *waits,
        # Work that it is tied to is the nearer answer: the state is asked once that is signed.
        *([] if waits else _state(step, facts)),
        *_others_at_its_parts(step, facts),
        *_demands(step, facts),
        *_final_check(step, facts),
    ]


def may_go_on(step: Step, facts: Facts) -> list[Hindrance]:
    """What stands in the way of taking it on from a stage after the rack."""
    return [
        *_not_in_the_house(step),
        *_left_out(step),
        *_open_snags(step, facts),
        *_rest_under_way(step, facts),
        *_others_at_its_parts(step, facts),
        *_demands(step, facts),
        *_final_check(step, facts),
    ]


def not_here(step: Step) -> list[Hindrance]:
    """Only whether the piano is where the work is done."""
    return _not_in_the_house(step)


def _refuse_outside_path(step: Step) -> None:
    if step.target.pk == step.task.stage_id:
        raise Refused(f"{step.task} stands at “{step.target.name}” already.")
    if step.target.pk not in step.task.path:
        there_are = stages_there_are(step.task, step.stages)
        raise Refused(f"“{step.target.name}” is not on the way of {step.task}. {there_are}")


def _not_in_the_house(step: Step) -> list[Hindrance]:
    piano = step.task.instrument
    if step.task.at_the_owners:
        if piano.left_on is None:
            words = f"{piano.number} is still in the shop, and this is done at the owner's."
            return [Hindrance(Sort.HOUSE, words, "Free once it has left.")]
    elif piano.arrived_on is None:
        words = f"{piano.number} has not arrived yet."
        return [Hindrance(Sort.HOUSE, words, "Free once it is taken in.")]
    elif piano.left_on is not None:
        words = f"{piano.number} left the house on {piano.left_on:%d %b %Y}."
        return [Hindrance(Sort.HOUSE, words, "Free once it is taken in again.")]
    return []


def _left_out(step: Step) -> Iterable[Hindrance]:
    following = next_stage(step.task, step.stages)
    if following is not None and following.pk != step.target.pk:
        yield Hindrance(Sort.PATH, f"“{following.name}” comes before “{step.target.name}”.")


def _open_snags(step: Step, facts: Facts) -> Iterable[Hindrance]:
    for snag in facts.snags.get(step.task.pk, ()):
        words = f"Stopped: {snag.reason} ({snag.owner_name})."
        yield Hindrance(Sort.SNAG, words, "Free once the snag is cleared.")


def _tie(wait: Wait) -> Hindrance:
    why = f" ({wait.reason})" if wait.reason else ""
    words = f"It waits for “{wait.name}” in {wait.department}, now at “{wait.stage}”{why}."
    return Hindrance(Sort.TIE, words, f"Free once “{wait.name}” is signed.")


def _state(step: Step, facts: Facts) -> Iterable[Hindrance]:
    """What the state of the piano does not allow yet."""
    task = step.task
    known = facts.known.get(task.instrument.kind)
    if known is None or task.operation is None or task.operation.code not in known.codes:
        return
    stay = facts.stays.get(task.instrument_id) or Stay(task.instrument_id)
    for words in state.in_the_way(task.operation.code, stay, known):
        yield Hindrance(Sort.STATE, words)


def _others_at_its_parts(step: Step, facts: Facts) -> Iterable[Hindrance]:
    """Another task of this piano that has a part which this step would take."""
    task = step.task
    known = facts.known.get(task.instrument.kind)
    wanted = places.held_in(step.target, task, known) - places.held_in(step.here, task, known)
    stay = facts.stays.get(task.instrument_id)
    for other in stay.open_tasks if stay and wanted else ():
        shared = wanted & places.held_in(other.stage, other, known)
        if other.pk == task.pk or not shared:
            continue
        words = f"“{other.name}” in {other.department.name} has {places.in_words(shared)}"
        if other.stage.kind == Stage.Kind.RESTING and other.earliest_touch:
            rest = f"Its rest is over {in_words(other.earliest_touch)}."
            yield Hindrance(Sort.PLACE, f"{words}, resting at “{other.stage.name}”.", rest)
        else:
            yield Hindrance(
                Sort.PLACE,
                f"{words}, now at “{other.stage.name}”.",
                f"Free once “{other.name}” lets go of it.",
            )


def _rest_under_way(step: Step, facts: Facts) -> Iterable[Hindrance]:
    until = step.task.earliest_touch
    if until is not None and until > facts.now:
        words = f"“{step.here.name}” has to rest: earliest touch {in_words(until)}."
        yield Hindrance(Sort.REST, words)


def _demands(step: Step, facts: Facts) -> Iterable[Hindrance]:
    """What the stage asks for before it is left."""
    here, task = step.here, step.task
    if here.needs_photo and not facts.is_of_this_stay(facts.photographed.get(task.pk), task):
        yield Hindrance(Sort.PHOTO, f"“{here.name}” asks for a photo before it is left.")
    if asks_for_reading(here, task.operation) and not facts.is_of_this_stay(task.read_at, task):
        yield Hindrance(
            Sort.READING, f"“{here.name}” asks for a reading on its bench sheet before it is left."
        )
    if here.needs_second_eyes and facts.hands.get(task.pk) == step.by_id:
        words = f"“{here.name}” asks for a second pair of eyes: someone else has to pass it."
        yield Hindrance(Sort.EYES, words)


def _final_check(step: Step, facts: Facts) -> Iterable[Hindrance]:
    """What a final check has to rest on before it is signed."""
    if step.target.kind != Stage.Kind.SIGNED:
        return
    if unsafe := facts.unsafe.get(step.task.pk):
        yield Hindrance(Sort.UNSAFE, unsafe)
    for words in facts.lacking.get(step.task.pk, ()):
        yield Hindrance(Sort.PROOF, words)
