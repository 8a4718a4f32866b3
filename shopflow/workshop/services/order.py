"""The order of work, in one place: what may follow what on a task's path, and what stands in the way."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

from django.db.models import QuerySet

from shopflow.catalogue.models import Stage
from shopflow.common.refusals import Refused
from shopflow.workshop.models import Move, Task, TaskPhoto

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
    reason: str
    by_id: int

    @property
    def is_back(self) -> bool:
        return self._place(self.target.pk) < self._place(self.task.stage_id)

    def _place(self, stage_id: int) -> int:
        return self.task.path.index(stage_id)


def hindrances(step: Step) -> list[str]:
    """Everything that stands in the way of this step, in words; empty when it may be taken."""
    _refuse_outside_path(step)
    if step.is_back:
        return [] if step.reason else ["Going back needs a reason."]
    return [*_skipped(step), *_open_snags(step), *_unfinished_needs(step), *_demands(step)]


def _refuse_outside_path(step: Step) -> None:
    if step.target.pk == step.task.stage_id:
        raise Refused(f"{step.task} stands at “{step.target.name}” already.")
    if step.target.pk not in step.task.path:
        there_are = stages_there_are(step.task, step.stages)
        raise Refused(f"“{step.target.name}” is not on the way of {step.task}. {there_are}")


def stages_there_are(task: Task, stages: Mapping[int, Stage]) -> str:
    names = ", ".join(f"“{stage.name}”" for stage in live_path(task, stages))
    return f"Its stages are {names}."


def _skipped(step: Step) -> list[str]:
    following = next_stage(step.task, step.stages)
    if following is None or following.pk == step.target.pk:
        return []
    return [f"“{following.name}” comes before “{step.target.name}”."]


def _open_snags(step: Step) -> list[str]:
    # Owners and names are fetched one by one: hardly ever is there anything to name.
    snags = step.task.snags.open().order_by()
    return [f"Stopped: {snag.reason} ({snag.owner_name})." for snag in snags]


def _unfinished_needs(step: Step) -> list[str]:
    if step.stages[step.task.stage_id].kind != Stage.Kind.RACKED:
        return []
    waits = sorted(
        Task.objects.open().filter(needed_by__task=step.task).order_by(), key=lambda task: task.position
    )
    return [
        f"It waits for “{task.name}” in {task.department.name}, now at “{task.stage.name}”." for task in waits
    ]


def _demands(step: Step) -> list[str]:
    here = step.stages[step.task.stage_id]
    missing = []
    if here.needs_photo and not _has_photo_since(step.task):
        missing.append(f"“{here.name}” asks for a photo before it is left.")
    if here.needs_second_eyes and _did_the_work(step):
        missing.append(f"“{here.name}” asks for a second pair of eyes: someone else has to pass it.")
    return missing


def _has_photo_since(task: Task) -> bool:
    return TaskPhoto.objects.that_show().filter(task=task, photo__added_at__gte=task.stage_since).exists()


def _did_the_work(step: Step) -> bool:
    """Whether the one who signs is the one who last had hands on it."""
    return last_hands(Move.objects.filter(task=step.task)).get(step.task.pk) == step.by_id


def last_hands(moves: QuerySet[Move]) -> dict[int, int]:
    """By task: who last took it out of a stage with hands on it. What was undone does not count."""
    lines = list(moves.order_by("pk").values_list("pk", "task_id", "by_id", "origin__kind", "undoes_id"))
    # Told apart here and not in the query: asked for lines that undo nothing, SQLite reads the whole ledger.
    undone = {undoes for *_, undoes in lines}
    return {
        task: by
        for pk, task, by, kind, undoes in lines
        if kind == Stage.Kind.BENCHED and undoes is None and pk not in undone
    }
