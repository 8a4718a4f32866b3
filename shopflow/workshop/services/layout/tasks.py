"""A task made of an operation: its path, hours and rest copied from the catalogue as it is today."""

from __future__ import annotations

from collections.abc import Collection, Iterable, Sequence
from decimal import Decimal

from django.db.models import Max, Q

from shopflow.catalogue.models import Operation, Stage
from shopflow.common import clock
from shopflow.common.refusals import Refused
from shopflow.instruments.models import Instrument
from shopflow.workshop.models import Task


def path_of(operation: Operation) -> list[Stage]:
    """The stages in use that this operation passes through, from a rack to signed."""
    return path_through(operation.stages.all(), named=operation.name)


def path_through(stages: Iterable[Stage], *, named: str) -> list[Stage]:
    """Those of these stages that are in use, in order; refused unless they lead from a rack to signed."""
    stages = sorted(
        (stage for stage in stages if stage.retired_at is None),
        key=lambda stage: (stage.position, stage.pk),
    )
    kinds = [stage.kind for stage in stages]
    if len(stages) < 2 or kinds[0] != Stage.Kind.RACKED or kinds[-1] != Stage.Kind.SIGNED:
        raise Refused(
            f"“{named}” needs stages from a rack to signed; it has "
            + (", ".join(f"“{stage.name}”" for stage in stages) or "none")
            + "."
        )
    return stages


def task_for(operation: Operation, *, instrument: Instrument, position: int, why: str = "") -> Task:
    path = path_of(operation)
    low, likely, high = operation.hours_for(instrument.kind) or (Decimal(0),) * 3
    now = clock.now()
    return Task(
        instrument=instrument,
        department_id=operation.department_id,
        operation=operation,
        name=operation.name,
        position=position,
        why=why[:600],
        path=[stage.pk for stage in path],
        stage=path[0],
        stage_since=now,
        created_at=now,
        hours_low=low,
        hours_likely=likely,
        hours_high=high,
        rest_hours=operation.rest.hours_likely if operation.rest else 0,
        least_rest_hours=operation.rest.hours_low if operation.rest else 0,
        at_the_owners=operation.at_the_owners,
    )


def with_relations(
    operations: Sequence[Operation], *, kind: str, codes: Collection[str] = ()
) -> list[Operation]:
    """The same operations, each once, and those of these codes, with all that laying out needs.

    Only those that are done on this kind of instrument; in two queries.
    """
    wanted = Q(pk__in=[operation.pk for operation in operations]) | Q(code__in=list(codes))
    rows = Operation.objects.filter(wanted).select_related("rest", "department").prefetch_related("stages")
    found = {operation.pk: operation for operation in rows}
    named = [operation.pk for operation in operations]
    once = [found[pk] for pk in dict.fromkeys([*named, *found]) if pk in found]
    return [operation for operation in once if operation.hours_for(kind) is not None]


def next_position(instrument: Instrument) -> int:
    last = Task.objects.filter(instrument=instrument).aggregate(last=Max("position"))["last"]
    return 0 if last is None else last + 1
