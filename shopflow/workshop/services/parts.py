"""A part that is missing stops the work that needs it."""

from __future__ import annotations

from datetime import date
from typing import Any

from shopflow.common.refusals import Refused
from shopflow.instruments.models import CrateLine
from shopflow.people import access
from shopflow.people.access import Deed
from shopflow.people.models import Person
from shopflow.people.taps import TapIn
from shopflow.workshop.models import Snag, Task

from . import snags
from .taps import Answer, once


def missing_part_snag(
    *,
    line: CrateLine,
    task: Task,
    ask_again_on: date,
    by: Person,
    tap: TapIn,
    owner: Person | None = None,
    owner_outside: str = "",
) -> Answer:
    """Stop a task because a part of its instrument is missing; once for this tap, and once while it lasts.

    Who counts parts is seldom at the bench that waits for them: any hand may stop that bench so.
    """
    access.require(by, Deed.SNAG)
    who = {"owner": owner.pk if owner else None, "outside": owner_outside}
    body = {"deed": "part", "line": line.pk, "task": task.pk, "by": by.pk, "on": ask_again_on, **who}

    def deed() -> dict[str, Any]:
        # Locked, so that two hands who find the same hole stop the task once.
        Task.objects.select_for_update(of=("self",)).get(pk=task.pk)
        snag = snags.raise_snag(
            task=task,
            cause=Snag.Cause.PART,
            reason=_reason(line, task),
            ask_again_on=ask_again_on,
            by=by,
            owner=owner,
            owner_outside=owner_outside,
        )
        return {"task": task.pk, "snag": snag.pk, "words": f"{task} is stopped: {snag.reason}."}

    return once(tap, body=body, deed=deed)


def _reason(line: CrateLine, task: Task) -> str:
    line = CrateLine.objects.select_related("crate").get(pk=line.pk)
    if line.crate.instrument_id != task.instrument_id:
        raise Refused(f"{line.name} is no part of {task.instrument.number}.")
    if not line.missing:
        raise Refused(f"No {line.name} is missing from crate {line.crate.number} any more.")
    reason = f"{line.missing} of {line.count} × {line.name} missing, crate {line.crate.number}"
    if task.snags.open().filter(cause=Snag.Cause.PART, reason=reason).exists():
        raise Refused(f"{task} is stopped by it already: {reason}.")
    return reason
