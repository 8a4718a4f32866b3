"""What operations really took in this house: hours of signed work, and the catalogue's moved by them."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterable

from django.db.models import Sum

from shopflow.catalogue.models import Operation, Stage
from shopflow.compute.hours import HoursEstimate, learn
from shopflow.workshop.models import HoursSpent

LEAST_HOURS = 0.05


def hours_seen(kind: str) -> dict[int, list[float]]:
    """Hours spent on each signed task of this kind of instrument, by operation; one query."""
    signed = HoursSpent.objects.filter(
        task__stage__kind=Stage.Kind.SIGNED,
        task__operation__isnull=False,
        task__dropped_at=None,
        task__instrument__kind=kind,
    )
    rows = signed.values_list("task__operation_id", "task_id").annotate(total=Sum("hours"))
    found: dict[int, list[float]] = defaultdict(list)
    for operation_id, _, total in rows.order_by("task__stage_since", "task_id"):
        found[operation_id].append(max(LEAST_HOURS, float(total)))
    return found


def learned_hours(operations: Iterable[Operation], kind: str) -> dict[int, HoursEstimate]:
    """The estimate of those operations that this shop has finished on this kind of instrument before."""
    seen = hours_seen(kind)
    found = {}
    for operation in operations:
        hours = operation.hours_for(kind)
        if hours is not None and seen.get(operation.pk):
            low, likely, high = (max(LEAST_HOURS, float(one)) for one in hours)
            found[operation.pk] = learn(low, likely, high, seen[operation.pk])
    return found
