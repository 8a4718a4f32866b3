"""The tables that can be taken out: name, what is in it, columns, rows."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass

from shopflow.customers.models import Customer
from shopflow.instruments.models import Instrument
from shopflow.readings.models import Computed, Reading
from shopflow.workshop.models import HoursSpent, Move, Passage, PromiseMade, Snag, Task

from . import rows
from .rows import Rows, each

INSTRUMENT = "number kind maker serial year size_cm finish alterations fragile place".split()
OWNER = "customer customer_email customer_phone".split()
AT_TASK = "line task_line number task department".split()
# The shop takes out in the same columns in which it brings in.
ON_HAND = [*INSTRUMENT, "arrived_on", "promised_on", *OWNER]
ON_HAND += "route task department stage hours_likely note".split()
EVER = [*INSTRUMENT, *"arrived_on promised_on finished_on left_on".split(), *OWNER, "route"]


@dataclass(frozen=True, slots=True)
class Table:
    """One table that can be taken out."""

    code: str
    name: str
    words: str
    columns: list[str]
    rows: Callable[[], Rows]


_ALL = [
    Table(
        "on-hand",
        "Instruments on hand and their open work",
        "One row for each open task, the instrument's columns repeated: the file that a shop can bring in.",
        ON_HAND,
        rows.on_hand,
    ),
    Table(
        "instruments",
        "Instruments",
        "Every instrument that was ever here, with its owner.",
        EVER,
        each(lambda: Instrument.objects.select_related("customer", "route"), rows.instrument),
    ),
    Table(
        "tasks",
        "Tasks",
        "All work ever laid out, done or not.",
        "line number task department stage stage_since hours_low hours_likely hours_high rest_hours "
        "at_the_owners person laid_out_at dropped_at dropped_reason note".split(),
        each(lambda: Task.objects.select_related("instrument", "department", "stage", "person"), rows.task),
    ),
    Table(
        "moves",
        "Moves",
        "The ledger: who moved which task from where to where, and when.",
        AT_TASK + "from to by tablet tapped_at recorded_at undoes_line reason went_past_the_order".split(),
        each(lambda: rows.at_task(Move.objects, "origin", "target", "by", "tablet"), rows.move),
    ),
    Table(
        "passages",
        "Passages",
        "The ledger of the door: arrived, finished, opened again, left, came back.",
        "line number what on by recorded_at reason".split(),
        each(lambda: Passage.objects.select_related("instrument", "by"), rows.passage),
    ),
    Table(
        "promises",
        "Promises",
        "Which day was promised when, by whom, and which day it took the place of.",
        "line number promised_on instead_of by recorded_at".split(),
        each(lambda: PromiseMade.objects.select_related("instrument", "by"), rows.promise),
    ),
    Table(
        "hours",
        "Hours",
        "Hours spent, by person, task and day.",
        AT_TASK + "person hours worked_on recorded_at".split(),
        each(lambda: rows.at_task(HoursSpent.objects, "person"), rows.hours),
    ),
    Table(
        "snags",
        "Snags",
        "What stopped which task, for how long, and who owned it.",
        AT_TASK + "cause reason owner ask_again_on raised_by raised_at cleared_by cleared_at note".split(),
        each(lambda: rows.at_task(Snag.objects, "owner", "raised_by", "cleared_by"), rows.snag),
    ),
    Table(
        "readings",
        "Readings",
        "What was read on bench sheets, as typed and in the unit that is kept; struck ones too.",
        AT_TASK
        + "sheet what when_in_the_work where typed typed_unit value unit measured_again by at struck_at "
        "struck_reason".split(),
        each(lambda: rows.on_sheet(Reading.objects, "kind"), rows.reading),
    ),
    Table(
        "sums",
        "Sums of bench sheets",
        "What was worked out from what, the verdict, and by which version.",
        AT_TASK
        + "sheet sum typed came_out verdict version measured_again by at struck_at struck_reason".split(),
        each(lambda: rows.on_sheet(Computed.objects), rows.computed),
    ),
    Table(
        "customers",
        "Customers",
        "Names and addresses of owners. Handle with care.",
        ["line", *OWNER, "address", "note"],
        each(Customer.objects.all, rows.customer),
    ),
]

TABLES = {table.code: table for table in _ALL}
