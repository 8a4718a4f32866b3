"""A small crew with hours, so that something can be planned."""

from __future__ import annotations

from datetime import UTC, datetime
from typing import Any

from shopflow.catalogue.models import Department
from shopflow.people.models import Person, WorkingDay
from shopflow.planning.models import Plan, PlanLine
from shopflow.workshop.models import Task
from tests import cast

# A Monday in winter, when the clock in London shows UTC.
MONDAY = datetime(2026, 11, 30, 8, tzinfo=UTC)


def hand(name: str, home: Department, *, hours: float = 8, others: tuple[Department, ...] = ()) -> Person:
    """Somebody who works Monday to Friday."""
    made = cast.person(name, home=home)
    WorkingDay.objects.bulk_create(WorkingDay(person=made, weekday=day, hours=hours) for day in range(5))
    made.benches.set(others)
    return made


def plan(**given: Any) -> Plan:
    return Plan.objects.create(
        **{"state": Plan.State.PUBLISHED, "begins_at": MONDAY, "made_by": "Maud Ferrier"} | given
    )


def line(of: Plan, task: Task, starts: datetime, ends: datetime, hours: float, part: int = 0) -> PlanLine:
    return PlanLine.objects.create(
        plan=of,
        task=task,
        part=part,
        department=task.department,
        instrument=task.instrument,
        starts_at=starts,
        ends_at=ends,
        hours=hours,
    )
