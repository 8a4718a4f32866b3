"""What work holds, needs, opens, leaves and spoils; the lines and steps in which that is said."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from typing import Any

from django.db import transaction

from shopflow.catalogue.models import Operation, StateLine, StepLine
from shopflow.common import pulse
from shopflow.common.refusals import Refused
from shopflow.people.models import Person

from .checking import agreeing
from .version import setting_up

State = dict[str, Any]
OWN = "the shop’s own"
VERBS = ("needs", "opens", "leaves", "spoils", "lifts_from")


@transaction.atomic
def change_state(*, operation: Operation, state: State, anyway: bool, by: Person) -> Operation:
    """Work that is laid out already keeps its ties; what is laid out from now on follows the new ones."""
    setting_up(by)
    fresh = Operation.objects.select_for_update(of=("self",)).get(pk=operation.pk)
    if not state.get("at"):
        raise Refused("Choose at least one part that it holds.", field="at_upright")
    with agreeing(anyway=anyway):
        fresh.state, fresh.state_to_look_at, fresh.state_note = state, False, ""
        fresh.save(update_fields=["state", "state_to_look_at", "state_note"])
    pulse.bump()
    return fresh


@transaction.atomic
def change_line(
    *, line: StateLine, name: str, levels: Sequence[tuple[str, str]], found: str, goal: str, by: Person
) -> StateLine:
    """Levels with their words, from least to most; one that work speaks of cannot go."""
    setting_up(by)
    codes = [code for code, _ in levels]
    if len(codes) < 2 or len(set(codes)) < len(codes):
        raise Refused("Give at least two levels, each on its own line and each once.", field="levels")
    if not {found, goal} <= set(codes):
        raise Refused("“Found” and “goal” have to be among the levels.", field="levels")
    _refuse_level_in_use(line, codes)
    with agreeing():
        line.name, line.found, line.goal = name, found, goal
        line.levels, line.say, line.basis = codes, [words for _, words in levels], OWN
        line.save()
    return line


@transaction.atomic
def change_steps(*, line: StepLine, name: str, steps: Sequence[str], by: Person) -> StepLine:
    setting_up(by)
    if not steps or len(set(steps)) < len(steps):
        raise Refused("Give each step once, each on its own line.", field="steps")
    for operation in Operation.objects.in_use():
        step = (operation.state or {}).get("step", {}).get(line.code)
        if step and step not in steps:
            raise Refused(f"“{operation.name}” is the step “{step}”. Change that first.", field="steps")
    with agreeing():
        line.name, line.steps, line.basis = name, list(steps), OWN
        line.save()
    return line


def _refuse_level_in_use(line: StateLine, codes: Iterable[str]) -> None:
    gone = set(line.levels) - set(codes)
    for operation in Operation.objects.in_use():
        level = next((level for level in levels_said(operation.state or {}, line.code) if level in gone), "")
        if level:
            raise Refused(f"“{operation.name}” speaks of “{level}”. Change that first.", field="levels")


def levels_said(state: State, line: str) -> list[str]:
    """All levels of this line that an operation names."""
    every = [state, *state.get("by_kind", {}).values()]
    said = [facts[verb][line] for facts in every for verb in VERBS if line in facts.get(verb, {})]
    return [level.removeprefix("at most ").removeprefix("at least ").removeprefix("still ") for level in said]
