"""The cure clock: how long this task has to rest, by the product's sheet, and when it may be touched."""

from __future__ import annotations

from datetime import datetime, timedelta
from decimal import Decimal
from typing import Any

from shopflow.catalogue.models import Stage
from shopflow.common import clock, pulse
from shopflow.common.refusals import Refused
from shopflow.people import access
from shopflow.people.access import Deed
from shopflow.people.models import Person
from shopflow.people.taps import TapIn
from shopflow.readings.models import CureSet
from shopflow.workshop.models import Task
from shopflow.workshop.services import order
from shopflow.workshop.services.taps import Answer, once

from .sheets import task_at_own_bench

LONGEST_HOURS = 9_000


def set_cure(*, task_id: int, hours: float, basis: str, by: Person, tap: TapIn, reason: str = "") -> Answer:
    """Set the least rest of a task. Longer is the bench's to say; shorter wants a manager, and a reason."""
    body = {"deed": "cure", "task": task_id, "hours": hours, "basis": basis, "reason": reason, "by": by.pk}

    def deed() -> dict[str, Any]:
        task = task_at_own_bench(task_id, by)
        _refuse_without_rest(task)
        is_shorter = Decimal(str(hours)) < task.least_rest_hours
        if is_shorter:
            _check_shorter(task, reason=reason, by=by)
        begins = order.stay_began(task) if task.stage.kind == Stage.Kind.RESTING else clock.now()
        CureSet.objects.create(
            task=task,
            begins_at=begins,
            hours=hours,
            basis=basis,
            is_shortened=is_shorter,
            reason=reason,
            by=by,
            at=clock.now(),
        )
        until = _project(task, hours, begins)
        rests = f"earliest touch {order.in_words(until)}" if until else f"it will rest {hours:g} h at least"
        return {"task": task.pk, "words": f"{task}: {rests}."}

    return once(tap, body=body, deed=deed)


def _refuse_without_rest(task: Task) -> None:
    if not Stage.objects.filter(pk__in=task.path, kind=Stage.Kind.RESTING).exists():
        raise Refused(f"{task} has no stage in which it rests.")
    if task.stage.kind == Stage.Kind.SIGNED:
        raise Refused(f"{task} is signed already.")


def _check_shorter(task: Task, *, reason: str, by: Person) -> None:
    if not access.may(by, Deed.SHORTEN_CURE):
        raise Refused(
            f"It rests {float(task.least_rest_hours):g} h at least. Only a manager may cut that short.",
            field="hours",
        )
    if not reason:
        raise Refused("Cutting a rest short needs a reason; it is kept in the story.", field="reason")


def _project(task: Task, hours: float, begins: datetime) -> datetime | None:
    """The task bears the new least rest, and, where it rests already, the new moment."""
    least = Decimal(str(hours)).quantize(Decimal("0.1"))
    shorter = least < task.least_rest_hours
    task.rest_hours = least if shorter else max(task.rest_hours, least)
    task.least_rest_hours = least
    if task.stage.kind == Stage.Kind.RESTING:
        task.earliest_touch = begins + timedelta(hours=float(least)) if least else None
    task.save(update_fields=["rest_hours", "least_rest_hours", "earliest_touch"])
    pulse.bump()
    return task.earliest_touch
