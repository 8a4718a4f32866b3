"""Where missing parts matter: the tasks that put a piano together again, and its way out of the house."""

from __future__ import annotations

from django.db.models import Case, When

from shopflow.instruments.models import Instrument
from shopflow.instruments.selectors.crates import Missing, missing_of
from shopflow.workshop.models import Task
from shopflow.workshop.querysets import TaskQuerySet

# Operations that find out on the last day what was lost on the first.
PUTS_TOGETHER = ("assemble", "case-on")


def missing_at(task: Task) -> Missing | None:
    """What is missing of its instrument, where this task puts it together; None at all others."""
    if task.operation is None or task.operation.code not in PUTS_TOGETHER:
        return None
    return missing_of(task.instrument)


def tasks_to_stop(instrument: Instrument) -> TaskQuerySet:
    """Open work of an instrument; first what puts it together, which a missing part stops most likely."""
    together = Case(When(operation__code__in=PUTS_TOGETHER, then=0), default=1)
    tasks = Task.objects.open().before_leaving().filter(instrument=instrument)
    return tasks.select_related("department", "instrument").order_by(together, "position", "pk")
