"""An instrument's work as a picture of what waits for what."""

from __future__ import annotations

from django.urls import reverse

from shopflow.common.charts.net import Look, Net, Piece, net

from .selectors.instrument import SIGNED, TaskLine, Work
from .selectors.standing import State

_LOOKS = {
    SIGNED: Look.SIGNED,
    State.STOPPED: Look.STOPPED,
    State.READY: Look.READY,
    State.WAITING: Look.WAITING,
}


def picture_of(work: Work) -> Net:
    """The net of an instrument's tasks; the list beside it says the same in words."""
    ties = [(needed.pk, line.task.pk) for line in work.lines for needed in line.needs]
    bands = {part.department.code: part.department for part in work.parts}
    return net([_piece(line) for line in work.lines], ties, bands)


def _piece(line: TaskLine) -> Piece:
    task = line.task
    return Piece(
        key=task.pk,
        name=task.name,
        band=task.department.code,
        kind=task.stage.kind,
        look=_LOOKS.get(line.state, Look.UNDER_WAY),
        url=reverse("workshop:task", args=[task.pk]),
        said=f"{task.name}, {task.department.name}: {task.stage.name}, {line.state}",
    )
