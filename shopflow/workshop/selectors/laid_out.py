"""What an instrument's work consists of, what it must have besides, and what could be added."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterable

from django.db.models import Max

from shopflow.catalogue.models import Operation
from shopflow.compute import network
from shopflow.instruments.models import Instrument
from shopflow.workshop.models import Task


def offered_operations(instrument: Instrument) -> list[Operation]:
    """The operations in use that are done on this kind of instrument, department by department."""
    operations = Operation.objects.in_use().select_related("department")
    return [one for one in operations if one.hours_for(instrument.kind) is not None]


def missing_for(instrument: Instrument, operations: Iterable[Operation] = ()) -> list[Operation]:
    """What these operations, else the open work, must have and the job has not; in an order of work."""
    present = set(_operations_of(Task.objects.in_the_job(), instrument))
    wanted = {one.pk for one in operations} or set(_operations_of(Task.objects.open(), instrument))
    must: dict[int, list[int]] = defaultdict(list)
    for later, earlier in Operation.must.through.objects.values_list("from_operation_id", "to_operation_id"):
        must[later].append(earlier)
    offered = {one.pk: one for one in offered_operations(instrument)}
    missing = [pk for pk in _reached(wanted, must) if pk in offered and pk not in present | wanted]
    ties = [(earlier, later) for later in missing for earlier in must[later] if earlier in missing]
    return [offered[pk] for pk in network.order(ties, jobs=sorted(missing))]


def _operations_of(tasks: object, instrument: Instrument) -> Iterable[int]:
    rows = tasks.filter(instrument=instrument, operation__isnull=False)  # type: ignore[attr-defined]
    return rows.values_list("operation_id", flat=True)


def _reached(start: set[int], must: dict[int, list[int]]) -> set[int]:
    """Everything that has to be there for these, through any number of steps."""
    found, waiting = set[int](), list(start)
    while waiting:
        for earlier in must[waiting.pop()]:
            if earlier not in found:
                found.add(earlier)
                waiting.append(earlier)
    return found


def newest_task(instrument: Instrument) -> int:
    """The key of the task laid out last, 0 without any."""
    newest = Task.objects.filter(instrument=instrument).aggregate(newest=Max("pk"))["newest"]
    return newest or 0
