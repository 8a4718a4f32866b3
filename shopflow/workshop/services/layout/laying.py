"""Laying out an instrument's work at once: from a route, or from a list of operations."""

from __future__ import annotations

from collections.abc import Sequence

from django.db import transaction

from shopflow.catalogue.knowledge import knowledge
from shopflow.catalogue.models import Operation, Route
from shopflow.catalogue.selectors import operations_of
from shopflow.common import pulse
from shopflow.common.refusals import Refused
from shopflow.instruments.models import Instrument
from shopflow.people import access
from shopflow.people.access import Deed
from shopflow.people.models import Person
from shopflow.workshop.models import Task, TaskNeed
from shopflow.workshop.selectors.stay import stay_of
from shopflow.workshop.services import passages

from .plan import plan_job, tie_as_named
from .tasks import next_position, task_for, with_relations


@transaction.atomic
def start_route(*, instrument: Instrument, route: Route, by: Person) -> list[Task]:
    """Lay out a route's operations as a network of tasks on an instrument that has no work in this stay."""
    access.require(by, Deed.INSTRUMENTS)
    if not stay_of(instrument).is_empty:
        raise Refused(f"{instrument} has its work laid out already. Add or drop single tasks instead.")
    tasks = lay_out(instrument=instrument, operations=operations_of(route), by=by)
    instrument.route = route
    instrument.save(update_fields=["route"])
    return tasks


@transaction.atomic
def lay_out(*, instrument: Instrument, operations: Sequence[Operation], by: Person) -> list[Task]:
    """Make one task per operation and for all that must be opened and closed again; each tie with its reason.

    In the order given as far as the state of the piano allows. What other work of the list makes needless is
    left out.
    """
    access.require(by, Deed.INSTRUMENTS)
    plan = plan_job(operations, kind=instrument.kind, done=stay_of(instrument).done)
    if not plan.operations:
        raise Refused("No operation of this list can be done on this kind of instrument.")
    first = next_position(instrument)
    tasks = Task.objects.bulk_create(
        task_for(one, instrument=instrument, position=first + place, why=plan.why.get(one.code, ""))
        for place, one in enumerate(plan.operations)
    )
    by_code = {one.code: task for one, task in zip(plan.operations, tasks, strict=True)}
    TaskNeed.objects.bulk_create(
        TaskNeed(task=by_code[later], needs=by_code[earlier], reason=reason[:300])
        for earlier, later, reason in plan.ties
    )
    passages.settle(instrument, by=by)
    pulse.bump()
    return tasks


def sketch(
    *, instrument: Instrument, operations: Sequence[Operation]
) -> tuple[list[Task], list[tuple[int, int]]]:
    """A task for each of these, none of them written, and the ties among them; nothing is added to them."""
    named = with_relations(operations, kind=instrument.kind)
    tasks = [task_for(one, instrument=instrument, position=place) for place, one in enumerate(named)]
    pk_of = {one.code: one.pk for one in named}
    ties = tie_as_named(pk_of, knowledge(instrument.kind))
    return tasks, [(pk_of[earlier], pk_of[later]) for earlier, later, _ in ties]
