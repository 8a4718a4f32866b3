"""Moves: the deeds by which a task goes along its path, and back, and undone."""

from __future__ import annotations

import uuid
from datetime import datetime, timedelta
from typing import Any

from django.db import transaction
from django.utils import timezone

from shopflow.catalogue.models import Stage
from shopflow.common import clock, pulse
from shopflow.common.refusals import Refused
from shopflow.people import access
from shopflow.people.access import Deed
from shopflow.people.models import Person
from shopflow.workshop.models import Move, Task

from . import order, passages
from .refusals import TaskMovedOn
from .taps import Answer, TapIn, once

UNDO_WITHIN = timedelta(hours=24)
# Later than this nobody undoes a slip of the finger any more, so it is asked first.
UNDO_UNASKED_FOR = timedelta(minutes=15)


def move_task(
    *,
    task_id: int,
    to_stage_id: int,
    seen_stage_id: int,
    by: Person,
    tap: TapIn,
    reason: str = "",
    override: bool = False,
    facts: order.Facts | None = None,
) -> Answer:
    """Send a task to another stage of its path and write the move in the ledger, once for this tap.

    `seen_stage_id` is where the person saw the task; if it has moved on, nothing changes (409). What may
    stand in the way is read anew, but where the one who asks has kept the `facts` himself all along.
    """
    body = {
        "deed": "move",
        "task": task_id,
        "to": to_stage_id,
        "seen": seen_stage_id,
        "by": by.pk,
        "reason": reason,
        "override": override,
    }

    def deed() -> dict[str, Any]:
        task = _locked(task_id)
        access.require(by, Deed.WORK_AT_BENCH, bench=task.department)
        if task.stage_id != seen_stage_id:
            raise TaskMovedOn(task, _last_move(task))
        stages = {
            stage.pk: stage for stage in Stage.objects.filter(pk__in={*task.path, to_stage_id}).order_by()
        }
        target = stages.get(to_stage_id)
        if target is None:
            raise Refused(f"There is no such stage. {order.stages_there_are(task, stages)}")
        step = order.Step(task, target, stages, by.pk, reason)
        overrode = _check_order(step, facts, by=by, override=override)
        return _write(task, target, by=by, tap=tap, reason=reason, overrode=overrode)

    return once(tap, body=body, deed=deed)


def undo_move(*, move_id: int, by: Person, tap: TapIn) -> Answer:
    """Take a task back to where it stood before its last move, as a new line of the ledger."""

    def deed() -> dict[str, Any]:
        move = Move.objects.select_related("origin", "target", "by").filter(pk=move_id).first()
        if move is None:
            raise Refused("There is no such move.")
        task = _locked(move.task_id)
        access.require(by, Deed.WORK_AT_BENCH, bench=task.department)
        _check_undo(task, move, by=by)
        return _write(task, move.origin, by=by, tap=tap, reason="undone", undoes=move)

    return once(tap, body={"deed": "undo", "move": move_id, "by": by.pk}, deed=deed)


def put_back(task: Task, *, by: Person, reason: str) -> None:
    """Put work in hand back on its rack, in a deed that brings other work before it; a line of the ledger."""
    task = _locked(task.pk)
    rack = Stage.objects.get(pk=task.path[0])
    if task.stage_id != rack.pk and task.stage.kind != Stage.Kind.SIGNED:
        _write(task, rack, by=by, tap=TapIn.of(key=uuid.uuid4().hex, by=by), reason=reason)


def question_before_undo(move: Move | None, *, by: Person) -> str:
    """What to ask before this move is undone: it signed the work, is older, or is somebody else's."""
    if move is None:
        return ""
    when = f"{timezone.localtime(move.recorded_at):%a %d %b, %H:%M}"
    if move.target.kind == Stage.Kind.SIGNED:
        return f"This work was signed on {when}. Take the signature back?"
    if move.by_id != by.pk:
        return f"{move.by.name} marked this on {when}, not you. Undo it?"
    return f"This is from {when}. Undo it?" if clock.now() - move.recorded_at > UNDO_UNASKED_FOR else ""


def _locked(task_id: int) -> Task:
    try:
        task = (
            Task.objects.select_for_update(of=("self",))
            .select_related("instrument", "department", "stage", "operation")
            .get(pk=task_id)
        )
    except Task.DoesNotExist:
        raise Refused("There is no such task.") from None
    if task.dropped_at is not None:
        raise Refused(f"{task} was dropped: {task.dropped_reason}")
    return task


def _check_order(step: order.Step, facts: order.Facts | None, *, by: Person, override: bool) -> bool:
    """Refuse what stands in the way, unless a manager goes past it with a reason. True when that was so."""
    in_the_way = order.hindrances(step, facts)
    if not in_the_way:
        return False
    words = " ".join(map(str, in_the_way))
    if not override or any(hindrance.is_absolute for hindrance in in_the_way):
        raise Refused(words, task=step.task.pk, stage=step.task.stage_id)
    access.require(by, Deed.OVERRIDE)
    if not step.reason:
        raise Refused(f"Going past the order of work needs a reason. {words}")
    return True


def _check_undo(task: Task, move: Move, *, by: Person) -> None:
    last = _last_move(task)
    if last is None or last.pk != move.pk:
        raise TaskMovedOn(task, last)
    if move.undoes_id is not None:
        raise Refused("This line is an undo itself. Mark the stage again instead.")
    forth = order.Step(task, move.origin, {}, by.pk)
    if not forth.is_back and order.not_here(forth):
        raise Refused(" ".join(map(str, order.not_here(forth))))
    if access.may(by, Deed.UNDO_OTHERS):
        return
    if move.by_id != by.pk:
        raise Refused(f"This was {move.by.name}'s move. Ask a manager to undo it.")
    if clock.now() - move.recorded_at > UNDO_WITHIN:
        raise Refused("This move is more than a day old. Ask a manager to undo it.")
    if move.target.kind == Stage.Kind.SIGNED and _work_after_has_begun(task):
        raise Refused("Work that waited for this has begun. Ask a manager to undo it.")


def _work_after_has_begun(task: Task) -> bool:
    return Task.objects.in_the_job().filter(needs__needs=task).exclude(stage__kind=Stage.Kind.RACKED).exists()


def _last_move(task: Task) -> Move | None:
    return Move.objects.filter(task=task).select_related("by", "target").order_by("-pk").first()


def _write(
    task: Task,
    target: Stage,
    *,
    by: Person,
    tap: TapIn,
    reason: str = "",
    overrode: bool = False,
    undoes: Move | None = None,
) -> dict[str, Any]:
    """One line in the ledger and its projection, together or not at all."""
    origin, now = task.stage, clock.now()
    move = Move.objects.create(
        task=task,
        origin=origin,
        target=target,
        by=by,
        tablet=tap.tablet,
        tapped_at=tap.tapped_at,
        recorded_at=now,
        client=tap.client,
        key=tap.key,
        undoes=undoes,
        reason=reason,
        overrode=overrode,
    )
    task.stage, task.stage_since = target, now
    # Taken back into its rest it has lost no time: that leaving was undone.
    since = now if undoes is None else order.stay_began(task)
    task.earliest_touch = order.earliest_touch(target, since=since, least_hours=task.least_rest_hours)
    task.save(update_fields=["stage", "stage_since", "earliest_touch"])
    if Stage.Kind.SIGNED in {origin.kind, target.kind}:
        passages.settle(task.instrument, by=by, move=move)
    pulse.bump()
    return {
        "task": task.pk,
        "instrument": task.instrument.number,
        "move": move.pk,
        "from": origin.name,
        "to": target.name,
        "stage": target.pk,
    }


@transaction.atomic
def projection_differences(*, mend: bool = False) -> list[str]:
    """Tell stage, since when and earliest touch of each task from the ledger; name those stored otherwise."""
    last: dict[int, tuple[int, datetime]] = {
        task: (target, at)
        for task, target, at in Move.objects.order_by("pk").values_list("task", "target", "recorded_at")
    }
    stages = {stage.pk: stage for stage in Stage.objects.order_by()}
    resting = [task for task, (stage, _) in last.items() if stages[stage].kind == Stage.Kind.RESTING]
    began = order.stays_began(Task.objects.filter(pk__in=resting))
    wrong = []
    for task in Task.objects.select_related("instrument", "stage").iterator():
        stage_id, at = last.get(task.pk, (task.path[0], task.created_at))
        since = began.get(task.pk, task.created_at)
        touch = order.earliest_touch(stages[stage_id], since=since, least_hours=task.least_rest_hours)
        if (task.stage_id, task.stage_since) != (stage_id, at):
            wrong.append(f"{task}: stored stage {task.stage_id}, ledger says {stage_id}")
        elif task.earliest_touch != touch:
            wrong.append(f"{task}: stored earliest touch {task.earliest_touch}, ledger says {touch}")
        else:
            continue
        if mend:
            told = {"stage_id": stage_id, "stage_since": at, "earliest_touch": touch}
            Task.objects.filter(pk=task.pk).update(**told)
    return wrong
