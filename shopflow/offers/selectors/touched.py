"""Which open tasks of an instrument a change order touches: only those stop while the answer is awaited."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterable
from dataclasses import dataclass, replace

from shopflow.catalogue.models import Operation, Remedy
from shopflow.instruments.models import Instrument
from shopflow.workshop.models import Task
from shopflow.workshop.selectors.instrument import ties_of


@dataclass(frozen=True, slots=True)
class Touched:
    """An open task, why it is touched, and whether it had better stop."""

    task: Task
    why: str
    should_stop: bool


def touched_by(instrument: Instrument, remedies: Iterable[Remedy]) -> list[Touched]:
    """The tasks that the remedies are, that build on them, or that they need; in the order of the job.

    What waits for a task that stops anyway needs no snag of its own.
    """
    operations = {one.pk: one for remedy in remedies for one in remedy.operations.all()}
    rows = Operation.objects.filter(pk__in=operations).prefetch_related("must", "opens", "before")
    later, earlier = dict[int, str](), dict[int, str]()
    for operation in rows:
        later |= {one.pk: operation.name for one in (*operation.opens.all(), *operation.before.all())}
        earlier |= {one.pk: operation.name for one in operation.must.all()}
    found = [_touched(task, operations, later, earlier) for task in open_tasks(instrument)]
    return _without_those_behind([one for one in found if one is not None], instrument)


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


def _without_those_behind(found: list[Touched], instrument: Instrument) -> list[Touched]:
    """What needs, directly or through others, a task that stops, waits for that one already."""
    needs: dict[int, set[int]] = defaultdict(set)
    for task, needed in ties_of(instrument):
        needs[task].add(needed)
    stops = {one.task.pk: one.task.name for one in found if one.should_stop}
    told = []
    for one in found:
        ahead = next((pk for pk in _all_needs(one.task.pk, needs) if pk in stops), None)
        if one.should_stop and ahead is not None:
            one = replace(one, why=f"it waits for “{stops[ahead]}” anyway", should_stop=False)
        told.append(one)
    return told


def _all_needs(task: int, needs: dict[int, set[int]]) -> list[int]:
    """Everything that this task waits for, the nearest first."""
    seen, waiting = list[int](), [*sorted(needs[task])]
    while waiting:
        here = waiting.pop(0)
        if here not in seen:
            seen.append(here)
            waiting += sorted(needs[here])
    return seen
