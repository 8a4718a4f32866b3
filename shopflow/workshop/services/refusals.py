"""Why a deed was refused, in words for the person who tried it."""

from __future__ import annotations

from typing import Any

from django.utils import timezone

from shopflow.workshop.models import Move, Task


class Refused(Exception):
    """The deed goes against the order of work; nothing was changed. Answered with 422."""

    status = 422

    def __init__(self, message: str, **facts: Any) -> None:
        super().__init__(message)
        self.message = message
        self.facts = facts

    def answer(self) -> dict[str, Any]:
        return {"refused": self.message, **self.facts}


class TaskMovedOn(Refused):
    """The person saw an older stage than the one in which the task stands. Answered with 409."""

    status = 409

    def __init__(self, task: Task, last: Move | None) -> None:
        facts: dict[str, Any] = {"task": task.pk, "stage": task.stage_id, "where": task.stage.name}
        message = f"{task} is already at “{task.stage.name}”"
        if last is not None:
            at = timezone.localtime(last.recorded_at)
            message += f" since {at:%H:%M on %d %b}, moved by {last.by.name}"
            facts |= {"who": last.by.name, "when": last.recorded_at.isoformat()}
        super().__init__(message + ". Nothing was changed.", **facts)


class KeyUsedTwice(Refused):
    """The same key came with another body."""

    def __init__(self) -> None:
        super().__init__("This tap's key was already used for something else. Nothing was changed.")
