"""The work in hand as it stood at a moment: open tasks, started instruments and open snags.

Floor and Bench show the present. Here the present is rolled back: a task stood where its first move since
then took it from, and a task, a drop or a snag that was written since then had not happened yet.
"""

from __future__ import annotations

from collections.abc import Collection
from dataclasses import dataclass
from datetime import datetime
from decimal import Decimal
from typing import Any

from django.db.models import Max, Q

from shopflow.catalogue.models import Stage
from shopflow.workshop.models import Move, Snag, Task

AGES = ((0, 2, "0 to 2 days"), (3, 7, "3 to 7 days"), (8, 14, "8 to 14 days"), (15, None, "15 days and more"))


@dataclass(frozen=True, slots=True)
class OpenTask:
    pk: int
    instrument_id: int
    department_id: int
    kind: str
    hours: Decimal
    at_the_owners: bool


def open_tasks(*, at: datetime) -> list[OpenTask]:
    """The tasks that were neither signed nor dropped at this moment, each with its kind of stage then."""
    # Tasks first and moves second: a tap in between is then found among the moves and rolled back.
    tasks = list(_candidates(at))
    before = _stage_before(at)
    kinds = dict(Stage.objects.values_list("pk", "kind"))
    found = [
        OpenTask(pk, instrument, department, kinds[before.get(pk, stage)], hours, away)
        for pk, instrument, department, stage, hours, away in tasks
    ]
    return [task for task in found if task.kind != Stage.Kind.SIGNED]


def _candidates(at: datetime):  # type: ignore[no-untyped-def]
    moved_since = Move.objects.filter(recorded_at__gte=at).values("task")
    laid_out = Task.objects.filter(created_at__lt=at).exclude(dropped_at__lt=at)
    wanted = laid_out.filter(~Q(stage__kind=Stage.Kind.SIGNED) | Q(pk__in=moved_since)).order_by()
    return wanted.values_list(
        "pk", "instrument_id", "department_id", "stage_id", "hours_likely", "at_the_owners"
    )


def _stage_before(at: datetime) -> dict[int, int]:
    """For each task that has moved since: the stage in which it stood."""
    since = Move.objects.filter(recorded_at__gte=at).order_by("-pk")
    return dict(since.values_list("task_id", "origin_id"))


def last_moved(instrument_ids: Collection[int], *, at: datetime) -> dict[int, datetime]:
    """When each of these instruments had last been worked on before this moment."""
    moves = Move.objects.filter(task__instrument__in=instrument_ids, recorded_at__lt=at).order_by()
    return dict(moves.values_list("task__instrument_id").annotate(last=Max("recorded_at")))


def open_snags(*, at: datetime, among: Collection[int]) -> list[dict[str, Any]]:
    """What stopped these tasks at this moment, longest first."""
    snags = Snag.objects.filter(Q(cleared_at=None) | Q(cleared_at__gte=at), raised_at__lt=at)
    snags = snags.select_related("owner", "task__department", "task__instrument").order_by("raised_at", "pk")
    return [_said(snag, at) for snag in snags if snag.task_id in among]


def _said(snag: Snag, at: datetime) -> dict[str, Any]:
    return {
        "task_id": snag.task_id,
        "number": snag.task.instrument.number,
        "task": snag.task.name,
        "department": snag.task.department.name,
        "cause": snag.get_cause_display(),
        "reason": snag.reason,
        "owner": snag.owner_name,
        "days": (at - snag.raised_at).days,
    }


def by_age(snags: Collection[dict[str, Any]]) -> list[dict[str, Any]]:
    """How many snags fall into each span of age."""
    return [
        {
            "label": label,
            "count": sum(low <= snag["days"] and (high is None or snag["days"] <= high) for snag in snags),
        }
        for low, high, label in AGES
    ]
