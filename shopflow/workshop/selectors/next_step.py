"""The next step of a task in the words that stand on its button."""

from __future__ import annotations

from dataclasses import dataclass

from shopflow.catalogue.models import Stage


@dataclass(frozen=True, slots=True)
class NextStep:
    """Where one tap takes a task, what the button says, and what comes after."""

    to: Stage
    label: str
    then: str


def next_step(here: Stage, to: Stage) -> NextStep:
    """The step in words."""
    return NextStep(to=to, label=_label(here, to), then="" if here.kind == Stage.Kind.PROVING else _then(to))


def _label(here: Stage, to: Stage) -> str:
    if here.kind == Stage.Kind.RACKED:
        return "Take to the bench"
    if here.kind == Stage.Kind.RESTING:
        return "Rest is over"
    if here.kind == Stage.Kind.PROVING:
        return "Pass and sign" if to.kind == Stage.Kind.SIGNED else "Pass"
    return f"{here.name[:1].upper()}{here.name[1:]}: done"


def _then(to: Stage) -> str:
    second_eyes = "someone else checks it" if to.needs_second_eyes else "it is checked"
    return {
        Stage.Kind.BENCHED: f"then “{to.name}”",
        Stage.Kind.RESTING: f"then it rests: {to.name}",
        Stage.Kind.PROVING: f"then {second_eyes}",
        Stage.Kind.SIGNED: "then it is signed",
    }.get(Stage.Kind(to.kind), "")
