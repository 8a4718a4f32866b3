"""Why a deed was refused, in words for the person who tried it."""

from __future__ import annotations

from typing import Any

from django.utils import timezone

from shopflow.common.refusals import Refused
from shopflow.workshop.models import Move, Task


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
