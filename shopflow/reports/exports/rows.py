"""The rows of the tables that can be taken out, a few hundred at a time.

Every batch is a query of its own that begins behind the last row of the one before, so that a table of any
length needs the same small memory and holds no lock while a slow line fetches it.
"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Callable, Iterable, Iterator, Sequence
from typing import Any

from django.db.models import Model, QuerySet

from shopflow.customers.models import Customer
from shopflow.instruments.models import Instrument
from shopflow.readings.models import BenchSheet, Computed, Reading
from shopflow.workshop.models import HoursSpent, Move, Passage, PromiseMade, Snag, Task

BATCH = 500
Row = Sequence[object]
Rows = Iterator[Sequence[Row]]


def _batches(found: QuerySet[Any], *, size: int = BATCH) -> Iterator[list[Any]]:
    """The rows in the order of their keys, so many at a time."""
    found, last = found.order_by("pk"), 0
    while batch := list(found.filter(pk__gt=last)[:size]):
        yield batch
        last = batch[-1].pk


def each(found: Callable[[], QuerySet[Any]], row: Callable[[Any], Row]) -> Callable[[], Rows]:
    """Every row of these, each told in one line of the table."""
    return lambda: ([row(one) for one in batch] for batch in _batches(found()))


def _facts(one: Instrument) -> Row:
    return (
        one.number, one.kind, one.maker, one.serial, one.year_built, one.size_cm,
        one.finish, one.alterations, one.fragile, one.place,
    )  # fmt: skip


def _owner(one: Customer | None) -> Row:
    return (one.name, one.email, one.phone) if one else ("", "", "")


def _route(one: Instrument) -> str:
    return one.route.code if one.route else ""


def _name(one: Model | None) -> str:
    return str(one) if one else ""


def on_hand() -> Rows:
    """Instruments in the house or awaited, a row for each open task, or one row if there is none."""
    for batch in _batches(
        Instrument.objects.filter(left_on=None).select_related("customer", "route"), size=100
    ):
        open_tasks: dict[int, list[Task]] = defaultdict(list)
        tasks = Task.objects.open().filter(instrument__in=batch).select_related("department", "stage")
        for task in tasks.order_by("position", "pk"):
            open_tasks[task.instrument_id].append(task)
        yield [row for one in batch for row in _with_tasks(one, open_tasks[one.pk])]


def _with_tasks(one: Instrument, tasks: Iterable[Task]) -> list[Row]:
    here = (*_facts(one), one.arrived_on, one.promised_on, *_owner(one.customer), _route(one))
    rows: list[Row] = [
        (*here, task.name, task.department.name, task.stage.name, task.hours_likely, task.note)
        for task in tasks
    ]
    return rows or [(*here, "", "", "", None, "")]


def task(one: Task) -> Row:
    return (
        one.pk, one.instrument.number, one.name, one.department.name, one.stage.name, one.stage_since,
        one.hours_low, one.hours_likely, one.hours_high, one.rest_hours, one.at_the_owners,
        _name(one.person), one.created_at, one.dropped_at, one.dropped_reason, one.note,
    )  # fmt: skip


def _of_task(one: Move | HoursSpent | Snag | BenchSheet) -> Row:
    return (one.pk, one.task_id, one.task.instrument.number, one.task.name, one.task.department.name)


def move(one: Move) -> Row:
    return (
        *_of_task(one), one.origin.name, one.target.name, one.by.name, _name(one.tablet),
        one.tapped_at, one.recorded_at, one.undoes_id, one.reason, one.overrode,
    )  # fmt: skip


def passage(one: Passage) -> Row:
    kind = one.get_kind_display()
    return (one.pk, one.instrument.number, kind, one.on, one.by.name, one.recorded_at, one.reason)


def promise(one: PromiseMade) -> Row:
    return (one.pk, one.instrument.number, one.on, one.instead_of, one.by.name, one.recorded_at)


def hours(one: HoursSpent) -> Row:
    return (*_of_task(one), one.person.name, one.hours, one.worked_on, one.recorded_at)


def snag(one: Snag) -> Row:
    return (
        *_of_task(one), one.get_cause_display(), one.reason, one.owner_name, one.ask_again_on,
        one.raised_by.name, one.raised_at,
        _name(one.cleared_by), one.cleared_at, one.cleared_note,
    )  # fmt: skip


def reading(one: Reading) -> Row:
    sheet = one.sheet
    return (
        one.pk, *_of_task(sheet)[1:], sheet.kind, one.kind.name, one.get_phase_display(), one.place,
        one.typed, one.unit, one.value, one.kind.unit, one.measured_again, one.by.name, one.at,
        one.struck_at, one.struck_reason,
    )  # fmt: skip


def computed(one: Computed) -> Row:
    sheet = one.sheet
    typed = "; ".join(
        f"{each['label']} {each['typed']} {each.get('unit', '')}".strip() for each in one.typed.values()
    )
    said = "; ".join(f"{each['label']} {each['value']}" for each in one.outputs.get("said", []))
    return (
        one.pk, *_of_task(sheet)[1:], sheet.kind, one.code, typed, said, one.verdict, one.version,
        one.measured_again, one.by.name, one.at, one.struck_at, one.struck_reason,
    )  # fmt: skip


def instrument(one: Instrument) -> Row:
    days = (one.arrived_on, one.promised_on, one.finished_on, one.left_on)
    return (*_facts(one), *days, *_owner(one.customer), _route(one))


def customer(one: Customer) -> Row:
    return (one.pk, one.name, one.email, one.phone, one.address, one.note)


def at_task(found: Any, *also: str) -> QuerySet[Any]:
    """Lines about a task, read together with what their row says of it."""
    return found.select_related("task__instrument", "task__department", *also)


def on_sheet(found: Any, *also: str) -> QuerySet[Any]:
    """Lines of bench sheets, read together with the task that their row names."""
    return found.select_related("sheet__task__instrument", "sheet__task__department", "by", *also)
