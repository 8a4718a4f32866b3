"""What work really takes here: the catalogue's hours, moved by the shop's own signed work."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from decimal import Decimal
from math import log
from statistics import median
from typing import Any

from django.db.models import QuerySet, Sum

from shopflow.catalogue.models import Operation, Stage
from shopflow.common import clock
from shopflow.compute.alike import shared_share
from shopflow.compute.hours import HoursEstimate, learn
from shopflow.workshop.models import HoursSpent, Task

# Low and high of an estimate stand for the tenth and ninetieth percentile: 2 x 1.2816 standard deviations.
TENTH_TO_NINETIETH = 2.5631
LEAST_HOURS = 0.05
# What was done less often than this tells nothing about instruments.
FEW = 3


@dataclass(frozen=True, slots=True)
class Spread:
    """An estimate for one task: mean hours and their spread as a share of it."""

    mean: float
    spread: float


def observed_hours() -> dict[tuple[int, str], list[float]]:
    """Hours spent on each signed task, by operation and kind of instrument, last signed last. One query."""
    found: dict[tuple[int, str], list[float]] = defaultdict(list)
    for operation_id, kind, _, _, total in _spent():
        found[operation_id, kind].append(max(LEAST_HOURS, float(total)))
    return found


def likeness() -> float:
    """How much of the spread of hours the tasks of one instrument have in common, 0 to 1. One query."""
    by_work: dict[tuple[int, str], list[tuple[int, float]]] = defaultdict(list)
    for operation_id, kind, instrument_id, _, total in _spent():
        by_work[operation_id, kind].append((instrument_id, log(max(LEAST_HOURS, float(total)))))
    by_instrument: dict[int, list[float]] = defaultdict(list)
    for rows in by_work.values():
        usual = median(hours for _, hours in rows)
        for instrument_id, hours in rows if len(rows) >= FEW else ():
            by_instrument[instrument_id].append(hours - usual)
    return shared_share(by_instrument.values())


def _spent() -> QuerySet[HoursSpent, Any]:
    """(operation, kind, instrument, task, hours) of each signed task, last signed last."""
    return (
        HoursSpent.objects.filter(
            task__stage__kind=Stage.Kind.SIGNED,
            task__stage_since__lte=clock.now(),
            task__operation__isnull=False,
            task__dropped_at=None,
        )
        .values_list("task__operation_id", "task__instrument__kind", "task__instrument_id", "task_id")
        .annotate(total=Sum("hours"))
        .order_by("task__stage_since", "task_id")
    )


def learned(operations: Iterable[Operation]) -> dict[tuple[int, str], HoursEstimate]:
    """The estimate of every operation for each kind of instrument on which it is done."""
    seen = observed_hours()
    estimates = {}
    for operation in operations:
        for kind in ("upright", "grand"):
            hours = operation.hours_for(kind)
            if hours is not None:
                estimates[operation.pk, kind] = learn(*_three(hours), seen.get((operation.pk, kind), []))
    return estimates


def _three(hours: tuple[Decimal, Decimal, Decimal]) -> tuple[float, float, float]:
    low, likely, high = (max(LEAST_HOURS, float(one)) for one in hours)
    return low, likely, high


def spread_of(task: Task, estimates: Mapping[tuple[int, str], HoursEstimate]) -> Spread:
    """The shop's estimate for this task: by its operation where there is one, else by its own hours."""
    found = estimates.get((task.operation_id or 0, task.instrument.kind))
    if found is None:
        found = learn(*_three((task.hours_low, task.hours_likely, task.hours_high)), [])
    wide = (found.high - found.low) / TENTH_TO_NINETIETH / found.mean
    return Spread(found.mean, min(1.5, max(0.05, wide)))
