"""A task's path: the stages still before it, and a wish to take it to another one."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

from shopflow.catalogue.models import Operation, Stage
from shopflow.workshop.models import Task

END_KINDS = {Stage.Kind.RACKED, Stage.Kind.SIGNED}


def live_path(task: Task, stages: Mapping[int, Stage]) -> list[Stage]:
    """The stages still to be passed through: retired ones only where the task stands in one."""
    path = [stages[pk] for pk in task.path if pk in stages]
    return [s for s in path if s.retired_at is None or s.kind in END_KINDS or s.pk == task.stage_id]


def next_stage(task: Task, stages: Mapping[int, Stage]) -> Stage | None:
    path = live_path(task, stages)
    here = [stage.pk for stage in path].index(task.stage_id)
    return path[here + 1] if here + 1 < len(path) else None


@dataclass(frozen=True, slots=True)
class Step:
    """A wish to take a task from where it stands to another stage of its path."""

    task: Task
    target: Stage
    stages: Mapping[int, Stage]
    by_id: int
    reason: str = ""

    @property
    def here(self) -> Stage:
        """The stage in which it stands, as the task was read."""
        return self.stages[self.task.stage_id]

    @property
    def is_back(self) -> bool:
        return self._place(self.target.pk) < self._place(self.task.stage_id)

    def _place(self, stage_id: int) -> int:
        return self.task.path.index(stage_id)


def stages_there_are(task: Task, stages: Mapping[int, Stage]) -> str:
    names = ", ".join(f"“{stage.name}”" for stage in live_path(task, stages))
    return f"Its stages are {names}."


def asks_for_reading(stage: Stage, operation: Operation | None) -> bool:
    """Whether a reading is asked for: only of work that has a bench sheet to take it on."""
    return stage.needs_reading and operation is not None and bool(operation.sheet)
