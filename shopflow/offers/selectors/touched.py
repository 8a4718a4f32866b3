"""Which open tasks of an instrument a change order touches: only those stop while the answer is awaited."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass

from shopflow.catalogue.models import Operation, Remedy
from shopflow.instruments.models import Instrument
from shopflow.workshop.models import Task


@dataclass(frozen=True, slots=True)
class Touched:
    """An open task, why it is touched, and whether it had better stop."""

    task: Task
    why: str
    should_stop: bool


def touched_by(instrument: Instrument, remedies: Iterable[Remedy]) -> list[Touched]:
    """The tasks that the remedies are, that build on them, or that they need; in the order of the job."""
    operations = {one.pk: one for remedy in remedies for one in remedy.operations.all()}
    rows = Operation.objects.filter(pk__in=operations).prefetch_related("must", "opens", "before")
    later, earlier = dict[int, str](), dict[int, str]()
    for operation in rows:
        later |= {one.pk: operation.name for one in (*operation.opens.all(), *operation.before.all())}
        earlier |= {one.pk: operation.name for one in operation.must.all()}
    found = [_touched(task, operations, later, earlier) for task in open_tasks(instrument)]
    return [one for one in found if one is not None]


def open_tasks(instrument: Instrument) -> list[Task]:
    tasks = Task.objects.open().before_leaving().filter(instrument=instrument)
    return list(tasks.select_related("department", "stage").order_by("position", "pk"))


def _touched(
    task: Task, own: dict[int, Operation], later: dict[int, str], earlier: dict[int, str]
) -> Touched | None:
    pk = task.operation_id or 0
    if pk in own:
        return Touched(task, "it is part of what can be done about it", should_stop=True)
    if pk in later:
        return Touched(task, f"it comes after “{later[pk]}” and would close it up", should_stop=True)
    if pk in earlier:
        return Touched(task, f"“{earlier[pk]}” needs it in any case, so it may go on", should_stop=False)
    return None
