"""A caution is read once per person and task; that it was read is kept."""

from __future__ import annotations

from collections.abc import Collection
from typing import Any

from shopflow.catalogue.models import Caution
from shopflow.people import access
from shopflow.people.access import Deed
from shopflow.people.models import Person
from shopflow.people.taps import TapIn
from shopflow.readings.models import CautionSeen
from shopflow.workshop.models import Task
from shopflow.workshop.services.taps import Answer, once


def see_cautions(*, task: Task, cautions: Collection[Caution], by: Person, tap: TapIn) -> Answer:
    """Note that this person has read these cautions at this task."""
    codes = sorted(caution.code for caution in cautions)

    def deed() -> dict[str, Any]:
        access.require(by, Deed.SEE_SHOP)
        CautionSeen.objects.bulk_create(
            (CautionSeen(task=task, caution=caution, person=by) for caution in cautions),
            ignore_conflicts=True,
        )
        return {"task": task.pk, "words": "Read. The cautions stay at the top of the sheet, folded."}

    body = {"deed": "cautions", "task": task.pk, "by": by.pk, "cautions": codes}
    return once(tap, body=body, deed=deed)
