"""The same deeds for many at once: instruments taken in, work laid out, tasks standing where they stand.

Each keeps the rules of its single sister (intake, layout, moves) in a number of queries that does not grow
with every row. They are for instruments that have just come in: nobody else knows of them yet.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, replace
from datetime import date, datetime
from decimal import Decimal

from django.db import transaction

from shopflow.catalogue.knowledge import knowledge
from shopflow.catalogue.models import Department, Operation, Stage
from shopflow.common import clock, pulse
from shopflow.common.refusals import Refused
from shopflow.compute.worknet import Knowledge
from shopflow.instruments.models import Instrument
from shopflow.people import access
from shopflow.people.access import Deed
from shopflow.people.models import Person
from shopflow.workshop.models import Move, Passage, Task, TaskNeed
from shopflow.workshop.selectors.stay import RECEIVE, SURVEY, Stay

from . import layout, order, passages

BATCH = 500


@dataclass(frozen=True, slots=True)
class Work:
    """One task to lay out, and the stage in which it stands already. Without an operation: in own words."""

    instrument: Instrument
    department: Department
    path: Sequence[Stage]
    stands_in: Stage
    name: str
    operation: Operation | None = None
    hours_likely: Decimal | None = None
    note: str = ""
    why: str = ""


@transaction.atomic
def take_in_many(arrivals: Sequence[tuple[Instrument, date]], *, by: Person) -> list[Instrument]:
    """Enter instruments that have come into the house, each on its day (intake.take_in for many)."""
    access.require(by, Deed.INSTRUMENTS)
    now, today = clock.now(), clock.today()
    lines = []
    for instrument, on in arrivals:
        if on > today:
            raise Refused(f"Arrived on {on:%d %b %Y} is in the future; allowed is today or earlier.")
        # Whether the number is free is for the database to say, once for all of them.
        instrument.clean_fields(exclude=["customer", "route"])
        passages.project(instrument, Passage.Kind.ARRIVED, on)
        lines.append(Passage(instrument=instrument, kind=Passage.Kind.ARRIVED, on=on, by=by, recorded_at=now))
    written = Instrument.objects.bulk_create((instrument for instrument, _ in arrivals), batch_size=BATCH)
    Passage.objects.bulk_create(lines, batch_size=BATCH)
    pulse.bump()
    return written


@transaction.atomic
def lay_out_many(works: Sequence[Work], *, by: Person, key: str, reason: str) -> int:
    """Lay work out on fresh instruments, in the order given, and walk each task to where it stands already.

    Ties are those of the catalogue (layout.lay_out). Every step of the walk is a line of the ledger with this
    reason. What `order` would have held back is overridden in the open: the line says so, and only those may
    do it who may override. Gives the number of such lines. A fresh task has neither photos nor snags, so
    nothing has to be looked up.
    """
    access.require(by, Deed.INSTRUMENTS)
    now = clock.now()
    placed: dict[int, int] = {}
    tasks = []
    for work in works:
        place = placed[work.instrument.pk] = placed.get(work.instrument.pk, -1) + 1
        tasks.append(_task_for(work, place, now))
    Task.objects.bulk_create(tasks, batch_size=BATCH)
    laid = list(zip(tasks, works, strict=True))
    known = {kind: knowledge(kind) for kind in {work.instrument.kind for work in works}}
    ties = [tie for group in _by_instrument(laid) for tie in _ties(group, known)]
    TaskNeed.objects.bulk_create(ties, batch_size=BATCH)
    moves = _walk(laid, _facts_of_fresh(tasks, ties, known), by=by, key=key, reason=reason)
    pulse.bump()
    return sum(1 for move in moves if move.overrode)


def _walk(
    laid: Sequence[tuple[Task, Work]], facts: order.Facts, *, by: Person, key: str, reason: str
) -> list[Move]:
    """The lines that lead each task from its rack to where it was written to stand, at the same moment."""
    for task, work in laid:
        task.stage = work.path[0]
    moves: list[Move] = []
    for task, work in laid:
        for origin, target, held_back in _steps(task, work, facts, by=by):
            moves.append(
                Move(
                    task=task,
                    origin=origin,
                    target=target,
                    by=by,
                    tapped_at=facts.now,
                    recorded_at=facts.now,
                    client=f"person:{by.pk}",
                    key=f"{key}-{len(moves)}",
                    reason=reason,
                    overrode=held_back,
                )
            )
    _check_rights(moves, by=by)
    return Move.objects.bulk_create(moves, batch_size=BATCH)


def _facts_of_fresh(
    tasks: Sequence[Task], ties: Iterable[TaskNeed], known: Mapping[str, Knowledge]
) -> order.Facts:
    """What stands in the way of tasks of which nobody knows yet: no photos, no snags, nothing signed."""
    together: dict[int, list[Task]] = {}
    for task in tasks:
        together.setdefault(task.instrument_id, []).append(task)
    waits: dict[int, list[order.Wait]] = {}
    for tie in ties:
        earlier = order.Wait(tie.needs.name, tie.needs.department.name, tie.needs.stage.name, tie.reason)
        waits.setdefault(tie.task_id, []).append(earlier)
    return order.Facts(
        now=tasks[0].created_at if tasks else clock.now(),
        known=known,
        stays={
            pk: Stay(pk, open_tasks=tuple(group), coming_in=(RECEIVE, SURVEY))
            for pk, group in together.items()
        },
        waits=waits,
    )


def _check_rights(moves: Sequence[Move], *, by: Person) -> None:
    for department in {move.task.department_id: move.task.department for move in moves}.values():
        access.require(by, Deed.WORK_AT_BENCH, bench=department)
    if any(move.overrode for move in moves):
        access.require(by, Deed.OVERRIDE)


def _steps(task: Task, work: Work, facts: order.Facts, *, by: Person) -> Iterable[tuple[Stage, Stage, bool]]:
    """The way from the rack to where it stands: from, to, and whether the order would have held it back.

    The task itself is walked along, so that those after it meet it where it stands.
    """
    stages = {stage.pk: stage for stage in work.path}
    hands: dict[int, int] = {}
    task.earliest_touch = None
    while task.stage_id != work.stands_in.pk:
        origin, target = task.stage, work.path[task.path.index(task.stage_id) + 1]
        if target.kind == Stage.Kind.SIGNED:
            raise Refused(f"“{work.name}” is brought in as signed; only open work can be brought in.")
        step = order.Step(task, target, stages, by.pk, "brought in")
        in_the_way = order.hindrances(step, replace(facts, hands=hands))
        if any(hindrance.is_absolute for hindrance in in_the_way):
            raise Refused(" ".join(map(str, in_the_way)))
        yield origin, target, bool(in_the_way)
        if origin.kind == Stage.Kind.BENCHED:
            hands[task.pk] = by.pk
        task.stage = target
        task.earliest_touch = order.earliest_touch(target, since=facts.now, least_hours=task.least_rest_hours)


def _task_for(work: Work, place: int, now: datetime) -> Task:
    low, likely, high = _hours(work)
    operation = work.operation
    least = operation.rest.hours_low if operation and operation.rest else Decimal(0)
    return Task(
        instrument=work.instrument,
        department=work.department,
        operation=operation,
        name=work.name,
        note=work.note,
        why=work.why[:600],
        position=place,
        path=[stage.pk for stage in work.path],
        stage=work.stands_in,
        stage_since=now,
        created_at=now,
        hours_low=low,
        hours_likely=likely,
        hours_high=high,
        rest_hours=operation.rest.hours_likely if operation and operation.rest else 0,
        least_rest_hours=least,
        earliest_touch=order.earliest_touch(work.stands_in, since=now, least_hours=least),
        at_the_owners=bool(operation and operation.at_the_owners),
    )


def _hours(work: Work) -> tuple[Decimal, Decimal, Decimal]:
    """Low, likely, high. Given hours stretch or shrink the catalogue's; own words have no range."""
    of_operation = work.operation and work.operation.hours_for(work.instrument.kind)
    given = work.hours_likely
    if given is None:
        return of_operation or (Decimal(0), Decimal(0), Decimal(0))
    if not of_operation or not of_operation[1]:
        return given, given, given
    low, _, high = (_rounded(hours * given / of_operation[1]) for hours in of_operation)
    return min(low, given), given, max(high, given)


def _rounded(hours: Decimal) -> Decimal:
    return min(hours, Decimal(1000)).quantize(Decimal("0.01"))


def _by_instrument(laid: Sequence[tuple[Task, Work]]) -> Iterable[list[tuple[Task, Operation]]]:
    groups: dict[int, list[tuple[Task, Operation]]] = {}
    for task, work in laid:
        if work.operation is not None:
            groups.setdefault(task.instrument_id, []).append((task, work.operation))
    return groups.values()


def _ties(group: list[tuple[Task, Operation]], known: Mapping[str, Knowledge]) -> list[TaskNeed]:
    task_of = {operation.code: task for task, operation in group}
    of_its_kind = known[group[0][0].instrument.kind]
    return [
        TaskNeed(task=task_of[later], needs=task_of[earlier], reason=reason[:300])
        for earlier, later, reason in layout.tie_as_named(task_of, of_its_kind)
    ]
