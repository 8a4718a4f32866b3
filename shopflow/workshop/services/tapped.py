"""Snags and hours sent by a tap: like moves, each counts once however often it is sent."""

from __future__ import annotations

from datetime import date
from decimal import Decimal
from typing import Any

from shopflow.common.refusals import Refused
from shopflow.people import access
from shopflow.people.access import Deed
from shopflow.people.models import Person
from shopflow.workshop.models import HoursSpent, Snag, Task

from . import hours as hours_service
from . import snags as snags_service
from .taps import Answer, TapIn, once


def raise_snag(
    *,
    task_id: int,
    cause: str,
    reason: str,
    ask_again_on: date,
    by: Person,
    tap: TapIn,
    owner: Person | None = None,
    owner_outside: str = "",
) -> Answer:
    """Stop a task, once for this tap."""
    said: dict[str, Any] = {
        "cause": cause,
        "reason": reason,
        "ask_again_on": ask_again_on,
        "owner_outside": owner_outside,
    }
    body = {"deed": "snag", "task": task_id, "by": by.pk, "owner": owner.pk if owner else None, **said}

    def deed() -> dict[str, Any]:
        task = _task_at_own_bench(task_id, by, Deed.SNAG)
        snag = snags_service.raise_snag(task=task, by=by, owner=owner, **said)
        return {"task": task.pk, "snag": snag.pk, "words": f"{task} is stopped: {snag.reason}."}

    return once(tap, body=body, deed=deed)


def clear_snag(*, snag_id: int, by: Person, tap: TapIn) -> Answer:
    """Let a task go on, once for this tap."""

    def deed() -> dict[str, Any]:
        snag = _snag_at_own_bench(snag_id, by)
        snags_service.clear_snag(snag=snag, by=by)
        return {"task": snag.task_id, "snag": snag.pk, "words": f"{snag.task} may go on."}

    return once(tap, body={"deed": "clear snag", "snag": snag_id, "by": by.pk}, deed=deed)


def ask_again(*, snag_id: int, on: date, by: Person, tap: TapIn) -> Answer:
    """Put off the date to ask again, once for this tap."""

    def deed() -> dict[str, Any]:
        snag = _snag_at_own_bench(snag_id, by)
        snags_service.ask_again(snag=snag, on=on, by=by)
        words = f"{snag.task}: ask again on {on:%a} {on.day} {on:%b}."
        return {"task": snag.task_id, "snag": snag.pk, "words": words}

    return once(tap, body={"deed": "ask again", "snag": snag_id, "on": on, "by": by.pk}, deed=deed)


def enter_hours(
    *,
    task_id: int,
    hours: Decimal,
    by: Person,
    tap: TapIn,
    worked_on: date | None = None,
    tapped_on: date | None = None,
) -> Answer:
    """Write hours on a task, once for this tap; where no day is named they are of the day of the tap."""

    def deed() -> dict[str, Any]:
        task = _task_at_own_bench(task_id, by, Deed.HOURS)
        day = worked_on or tapped_on
        entry = hours_service.enter_hours(task=task, hours=hours, by=by, worked_on=day)
        words = f"{_plain(entry.hours)} h entered on {task}."
        return {"task": task.pk, "entry": entry.pk, "words": words}

    # Without the day of the tap, which is reckoned anew each time that it is sent.
    body = {"deed": "hours", "task": task_id, "hours": hours, "worked_on": worked_on, "by": by.pk}
    return once(tap, body=body, deed=deed)


def take_back_hours(*, entry_id: int, by: Person, tap: TapIn) -> Answer:
    """Take one's own hours of the last day away again, once for this tap."""

    def deed() -> dict[str, Any]:
        entry = HoursSpent.objects.select_related("task__instrument").filter(pk=entry_id).first()
        if entry is None:
            raise Refused("These hours were taken back already.")
        hours_service.take_back(entry=entry, by=by)
        return {"task": entry.task_id, "words": f"{_plain(entry.hours)} h taken back from {entry.task}."}

    return once(tap, body={"deed": "hours back", "entry": entry_id, "by": by.pk}, deed=deed)


def _task_at_own_bench(task_id: int, by: Person, deed: Deed) -> Task:
    task = Task.objects.select_related("instrument", "department", "stage").get(pk=task_id)
    access.require(by, deed, bench=task.department)
    return task


def _snag_at_own_bench(snag_id: int, by: Person) -> Snag:
    snag = Snag.objects.select_related("task__instrument", "task__department").get(pk=snag_id)
    access.require(by, Deed.SNAG, bench=snag.task.department)
    return snag


def _plain(hours: Decimal) -> str:
    return f"{hours.normalize():f}"
