"""What the office settles by hand: who does a task, where it stands in the list, what it waits for."""

from __future__ import annotations

from collections.abc import Collection

from django.db import transaction

from shopflow.common import pulse
from shopflow.common.refusals import Refused
from shopflow.compute import network
from shopflow.compute.errors import ComputeError
from shopflow.people import access
from shopflow.people.access import Deed
from shopflow.people.models import Person
from shopflow.workshop.models import Task, TaskNeed


@transaction.atomic
def tie(*, task: Task, needs: Task, by: Person, reason: str = "") -> None:
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
    TaskNeed.objects.get_or_create(task=task, needs=needs, defaults={"reason": reason[:300]})
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


@transaction.atomic
def say_where(*, task: Task, parts: Collection[str], by: Person) -> None:
    """Say which parts of the piano work in own words holds; nobody else has them while it is in hand."""
    access.require(by, Deed.INSTRUMENTS)
    if task.operation_id is not None:
        raise Refused(f"“{task.name}” is an operation of your list; which parts it holds is said there.")
    task.at = sorted(parts)
    task.save(update_fields=["at"])
    pulse.bump()


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
