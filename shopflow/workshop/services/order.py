"""The order of work, in one place: what may follow what on a task's path, and what stands in the way."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from datetime import datetime, timedelta
from decimal import Decimal

from django.db.models import QuerySet
from django.utils import timezone

from shopflow.catalogue.models import Operation, Stage
from shopflow.common import clock
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
    return [
        *_skipped(step),
        *_open_snags(step),
        *_unfinished_needs(step),
        *_rest_under_way(step),
        *_demands(step),
    ]


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


def earliest_touch(stage: Stage, *, since: datetime, least_hours: Decimal) -> datetime | None:
    """When what entered this stage at `since` may be touched again; None where nothing has to rest."""
    if stage.kind != Stage.Kind.RESTING or not least_hours:
        return None
    return since + timedelta(hours=float(least_hours))


def _rest_under_way(step: Step) -> list[str]:
    until = step.task.earliest_touch
    if until is None or until <= clock.now():
        return []
    here = step.stages[step.task.stage_id]
    return [f"“{here.name}” has to rest: earliest touch {in_words(until)}."]


def in_words(moment: datetime) -> str:
    """
    >>> from datetime import UTC
    >>> in_words(datetime(2026, 12, 3, 14, 30, tzinfo=UTC))
    'Thu 3 Dec, 14:30'
    """
    local = timezone.localtime(moment)
    return f"{local:%a} {local.day} {local:%b, %H:%M}"


def asks_for_reading(stage: Stage, operation: Operation | None) -> bool:
    """Whether a reading is asked for: only of work that has a bench sheet to take it on."""
    return stage.needs_reading and operation is not None and bool(operation.sheet)


def _demands(step: Step) -> list[str]:
    here, task = step.stages[step.task.stage_id], step.task
    missing = []
    asks_for_photo, for_reading = here.needs_photo, asks_for_reading(here, task.operation)
    since = stay_began(task) if asks_for_photo or for_reading else task.stage_since
    if asks_for_photo and not _has_photo_since(task, since):
        missing.append(f"“{here.name}” asks for a photo before it is left.")
    if for_reading and (task.read_at is None or task.read_at < since):
        missing.append(f"“{here.name}” asks for a reading on its bench sheet before it is left.")
    if here.needs_second_eyes and _did_the_work(step):
        missing.append(f"“{here.name}” asks for a second pair of eyes: someone else has to pass it.")
    return missing


def _has_photo_since(task: Task, since: datetime) -> bool:
    return TaskPhoto.objects.that_show().filter(task=task, photo__added_at__gte=since).exists()


def stay_began(task: Task) -> datetime:
    """When its present stay in its stage began: a leaving that was undone did not end it."""
    return stays_began([task]).get(task.pk, task.created_at)


def stays_began(tasks: Iterable[Task]) -> dict[int, datetime]:
    """The same for many, in one query; a task that never moved has stood there since it was laid out."""
    by_id = {task.pk: task for task in tasks}
    stays: dict[int, list[datetime]] = {pk: [task.created_at] for pk, task in by_id.items()}
    lines = Move.objects.filter(task__in=by_id).order_by("pk").values_list("task", "recorded_at", "undoes_id")
    for pk, at, undoes in lines:
        if undoes is None:
            stays[pk].append(at)
        elif len(stays[pk]) > 1:
            stays[pk].pop()
    return {pk: run[-1] for pk, run in stays.items()}


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
