"""Laying out an instrument's work: from a route, by adding, dropping, re-ordering and tying tasks."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from decimal import Decimal

from django.db import transaction
from django.db.models import Max

from shopflow.catalogue.models import Operation, Route, Stage
from shopflow.catalogue.selectors import operations_of
from shopflow.common import clock, pulse
from shopflow.common.refusals import Refused
from shopflow.compute import network
from shopflow.compute.errors import ComputeError
from shopflow.instruments.models import Instrument
from shopflow.people import access
from shopflow.people.access import Deed
from shopflow.people.models import Person
from shopflow.workshop.models import Task, TaskNeed
from shopflow.workshop.selectors.laid_out import newest_task

from . import passages


@transaction.atomic
def start_route(*, instrument: Instrument, route: Route, by: Person) -> list[Task]:
    """Lay out a route's operations as a network of tasks on an instrument that has none yet."""
    access.require(by, Deed.INSTRUMENTS)
    if Task.objects.in_the_job().filter(instrument=instrument).exists():
        raise Refused(f"{instrument} has its work laid out already. Add or drop single tasks instead.")
    tasks = lay_out(instrument=instrument, operations=operations_of(route), by=by)
    instrument.route = route
    instrument.save(update_fields=["route"])
    return tasks


@transaction.atomic
def lay_out(*, instrument: Instrument, operations: Sequence[Operation], by: Person) -> list[Task]:
    """Make one task per operation, tied to each other as the catalogue says; in the order given."""
    access.require(by, Deed.INSTRUMENTS)
    operations = _with_relations(operations, kind=instrument.kind)
    if not operations:
        raise Refused("No operation of this list can be done on this kind of instrument.")
    first = _next_position(instrument)
    tasks = Task.objects.bulk_create(
        _task_for(op, instrument=instrument, position=first + place) for place, op in enumerate(operations)
    )
    by_operation = {task.operation_id: task for task in tasks}
    ties = network.without_shortcuts(ties_among(operations, present=set(by_operation)))
    TaskNeed.objects.bulk_create(
        TaskNeed(task=by_operation[later], needs=by_operation[earlier]) for earlier, later in ties
    )
    passages.settle(instrument, by=by)
    pulse.bump()
    return tasks


def sketch(
    *, instrument: Instrument, operations: Sequence[Operation]
) -> tuple[list[Task], list[tuple[int, int]]]:
    """The tasks that laying out would make, none of them written, and the ties of their operations."""
    operations = _with_relations(operations, kind=instrument.kind)
    tasks = [_task_for(one, instrument=instrument, position=place) for place, one in enumerate(operations)]
    return tasks, network.without_shortcuts(ties_among(operations, present={one.pk for one in operations}))


@transaction.atomic
def add_task(
    *,
    instrument: Instrument,
    operation: Operation,
    by: Person,
    needs: Iterable[Task] = (),
    name: str = "",
    note: str = "",
) -> Task:
    """Add one task: what it needs is what the catalogue ties it to among the tasks there, and `needs`."""
    access.require(by, Deed.INSTRUMENTS)
    known = _with_relations([operation], kind=instrument.kind)
    if not known:
        raise Refused("This operation is not done on this kind of instrument.")
    operation = known[0]
    task = _task_for(operation, instrument=instrument, position=_next_position(instrument))
    task.name, task.note = name or task.name, note
    task.save()
    _tie_to_present(task, operation)
    for earlier in needs:
        tie(task=task, needs=earlier, by=by)
    passages.settle(instrument, by=by)
    pulse.bump()
    return task


@transaction.atomic
def add_together(
    *,
    instrument: Instrument,
    operations: Sequence[Operation],
    by: Person,
    name: str = "",
    note: str = "",
    seen_newest: int | None = None,
) -> list[Task]:
    """Add several operations in this order; a name or a note given belongs to the last of them.

    With `seen_newest`, the newest task that the person saw, nothing is added to a list that has grown since.
    """
    access.require(by, Deed.INSTRUMENTS)
    Instrument.objects.select_for_update().get(pk=instrument.pk)
    if seen_newest is not None and seen_newest != newest_task(instrument):
        raise Refused("A task was added since this page was opened. Look first, then add it if need be.")
    *before, last = operations
    tasks = [add_task(instrument=instrument, operation=operation, by=by) for operation in before]
    return [*tasks, add_task(instrument=instrument, operation=last, by=by, name=name, note=note)]


@transaction.atomic
def drop_task(*, task: Task, by: Person, reason: str) -> None:
    """Take a task out of the job. It stays in the records; what waited for it now waits for its needs."""
    access.require(by, Deed.INSTRUMENTS)
    task = Task.objects.select_for_update(of=("self",)).select_related("instrument", "stage").get(pk=task.pk)
    if task.dropped_at is not None:
        raise Refused(f"{task} was dropped already.")
    if not reason.strip():
        raise Refused("Dropping a task needs a reason.")
    if task.stage.kind == Stage.Kind.SIGNED:
        raise Refused(f"{task} is signed; what was done cannot be dropped.")
    earlier = [need.needs for need in task.needs.select_related("needs")]
    for later in [need.task for need in task.needed_by.select_related("task")]:
        for before in earlier:
            TaskNeed.objects.get_or_create(task=later, needs=before)
    task.dropped_at, task.dropped_by, task.dropped_reason = clock.now(), by, reason.strip()
    task.save(update_fields=["dropped_at", "dropped_by", "dropped_reason"])
    passages.settle(task.instrument, by=by)
    pulse.bump()


@transaction.atomic
def tie(*, task: Task, needs: Task, by: Person) -> None:
    """Say that a task may not begin before another is signed; a circle is refused with its tasks named."""
    access.require(by, Deed.INSTRUMENTS)
    if task.instrument_id != needs.instrument_id:
        raise Refused("Only tasks of the same instrument can wait for each other.")
    pairs = list(
        TaskNeed.objects.filter(task__instrument=task.instrument_id).values_list("needs_id", "task_id")
    )
    try:
        network.order([*pairs, (needs.pk, task.pk)])
    except ComputeError as error:
        raise Refused(f"“{task.name}” cannot wait for “{needs.name}”: {_circle(task, needs)}") from error
    TaskNeed.objects.get_or_create(task=task, needs=needs)
    pulse.bump()


@transaction.atomic
def untie(*, task: Task, needs: Task, by: Person) -> None:
    access.require(by, Deed.INSTRUMENTS)
    TaskNeed.objects.filter(task=task, needs=needs).delete()
    pulse.bump()


@transaction.atomic
def move_in_order(*, task: Task, by: Person, places: int) -> None:
    """Move a task up (negative) or down in its instrument's list; ties between tasks stay as they are."""
    access.require(by, Deed.INSTRUMENTS)
    line = list(Task.objects.in_the_job().filter(instrument=task.instrument_id).order_by("position", "pk"))
    here = next((place for place, one in enumerate(line) if one.pk == task.pk), None)
    if here is None:
        raise Refused(f"{task} is not in the job any more.")
    moved = line.pop(here)
    line.insert(min(max(here + places, 0), len(line)), moved)
    for place, one in enumerate(line):
        one.position = place
    Task.objects.bulk_update(line, ["position"])
    pulse.bump()


@transaction.atomic
def assign(*, task: Task, person: Person | None, by: Person) -> None:
    """Say who does a task, or that nobody in particular does."""
    access.require(by, Deed.INSTRUMENTS)
    task.person = person
    task.save(update_fields=["person"])
    pulse.bump()


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


def _task_for(operation: Operation, *, instrument: Instrument, position: int) -> Task:
    path = path_of(operation)
    low, likely, high = operation.hours_for(instrument.kind) or (Decimal(0),) * 3
    now = clock.now()
    return Task(
        instrument=instrument,
        department_id=operation.department_id,
        operation=operation,
        name=operation.name,
        position=position,
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


def _with_relations(operations: Sequence[Operation], *, kind: str) -> list[Operation]:
    """The same operations, each once, with all that laying out needs read in four queries."""
    found = {
        operation.pk: operation
        for operation in Operation.objects.filter(pk__in=[op.pk for op in operations])
        .select_related("rest")
        .prefetch_related("stages", "must", "after")
    }
    once = [found[pk] for pk in dict.fromkeys(op.pk for op in operations) if pk in found]
    return [operation for operation in once if operation.hours_for(kind) is not None]


def ties_among(operations: Iterable[Operation], *, present: set[int | None]) -> list[tuple[int, int]]:
    """What the catalogue ties among those operations that are present: (earlier, later)."""
    return [
        (earlier.pk, operation.pk)
        for operation in operations
        for earlier in {*operation.must.all(), *operation.after.all()}
        if earlier.pk in present
    ]


def _tie_to_present(task: Task, operation: Operation) -> None:
    """Tie a task both ways to those already there: what it comes after, and what comes after it."""
    others = {
        other.operation_id: other
        for other in Task.objects.open().filter(instrument=task.instrument_id).exclude(pk=task.pk)
    }
    earlier = {*operation.must.all(), *operation.after.all()}
    later = {*operation.opens.all(), *operation.before.all()}
    wished = [(others[op.pk].pk, task.pk) for op in earlier if op.pk in others]
    wished += [
        (task.pk, others[op.pk].pk)
        for op in later
        if op.pk in others and others[op.pk].stage.kind == Stage.Kind.RACKED
    ]
    TaskNeed.objects.bulk_create(
        TaskNeed(task_id=then, needs_id=before)
        for before, then in _without_circles(task.instrument_id, wished)
    )


def _without_circles(instrument_id: int, wished: Iterable[tuple[int, int]]) -> list[tuple[int, int]]:
    """The ties that may be made: what a manager tied by hand goes before what the catalogue says."""
    present = TaskNeed.objects.filter(task__instrument=instrument_id).values_list("needs_id", "task_id")
    ties, kept = list(present), list[tuple[int, int]]()
    for tie_wished in wished:
        try:
            network.order([*ties, *kept, tie_wished])
        except ComputeError:
            continue
        kept.append(tie_wished)
    return kept


def _next_position(instrument: Instrument) -> int:
    last = Task.objects.filter(instrument=instrument).aggregate(last=Max("position"))["last"]
    return 0 if last is None else last + 1


def _circle(task: Task, needs: Task) -> str:
    """The chain by which `needs` already waits for `task`, in words."""
    after: dict[int, list[int]] = {}
    for earlier, later in TaskNeed.objects.filter(task__instrument=task.instrument_id).values_list(
        "needs_id", "task_id"
    ):
        after.setdefault(earlier, []).append(later)
    chain = _chain(task.pk, needs.pk, after)
    names = dict(Task.objects.filter(pk__in=chain).values_list("pk", "name"))
    return " → ".join(f"“{names[pk]}”" for pk in [*chain, task.pk]) + " would be a circle."


def _chain(start: int, goal: int, after: dict[int, list[int]]) -> list[int]:
    waiting, came_from = [start], {start: 0}
    while waiting:
        here = waiting.pop(0)
        for following in after.get(here, []):
            if following not in came_from:
                came_from[following] = here
                waiting.append(following)
    if goal not in came_from:
        return [goal]
    chain = [goal]
    while chain[-1] != start:
        chain.append(came_from[chain[-1]])
    return chain[::-1]
