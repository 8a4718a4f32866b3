"""The whole workshop at one look: a row per instrument, a column per department."""

from __future__ import annotations

from collections import defaultdict
from dataclasses import dataclass
from datetime import date
from decimal import Decimal

from django.db.models import Count, F, QuerySet

from shopflow.catalogue import selectors as catalogue
from shopflow.catalogue.models import Department, Stage
from shopflow.common import clock
from shopflow.common.charts import Chart
from shopflow.common.gauges import Gauge, GaugeSheet, gauge_words
from shopflow.common.odds import odds_in_words
from shopflow.instruments.models import Instrument
from shopflow.instruments.querysets import InstrumentQuerySet
from shopflow.workshop.models import Task

from .standing import Load, Standing, State, hands_on_hours_a_week, load_of, standings

# Which task of a crossing is shown: the one that most wants a look.
SHOWN_FIRST = [State.STOPPED, State.PROVING, State.BENCHED, State.RESTING, State.READY, State.WAITING]


@dataclass(frozen=True, slots=True)
class Filter:
    """What the person at the Floor wants to see."""

    words: str = ""
    only: str = ""
    by_owner: bool = False

    ONLY = (
        ("", "everything"),
        ("stopped", "stopped"),
        ("late", "promised and late"),
        ("ready", "with work ready to take"),
        ("idle", "nobody on it"),
        ("finished", "finished or handed over"),
    )


@dataclass(frozen=True, slots=True)
class Crossing:
    """One instrument in one department."""

    department: Department
    shown: Standing | None
    gauge: Gauge | None
    signed: int
    total: int

    @property
    def is_done(self) -> bool:
        return self.total > 0 and self.signed == self.total


@dataclass(frozen=True, slots=True)
class Row:
    instrument: Instrument
    crossings: list[Crossing]
    today: date

    @property
    def days_in_house(self) -> int:
        return (self.today - self.instrument.arrived_on).days if self.instrument.arrived_on else 0

    @property
    def days_to_promise(self) -> int | None:
        promised = self.instrument.promised_on
        return (promised - self.today).days if promised else None

    @property
    def days_late(self) -> int:
        return max(0, -(self.days_to_promise or 0))

    @property
    def odds(self) -> str:
        """The odds of the promise by the published plan; empty where it says none."""
        odds = self.instrument.promise_odds
        return odds_in_words(odds) if odds is not None and self.instrument.promised_on else ""

    @property
    def is_late(self) -> bool:
        days = self.days_to_promise
        return days is not None and days < 0 and self.instrument.finished_on is None

    @property
    def shown(self) -> list[Standing]:
        return [crossing.shown for crossing in self.crossings if crossing.shown]

    def fits(self, only: str) -> bool:
        states = {standing.state for standing in self.shown}
        return {
            "stopped": State.STOPPED in states,
            "late": self.is_late,
            "ready": State.READY in states,
            "idle": bool(states) and not states & {State.BENCHED, State.PROVING, State.RESTING},
            "finished": self.instrument.finished_on is not None,
        }.get(only, True)


@dataclass(frozen=True, slots=True)
class Column:
    department: Department
    load: Load

    @property
    def bar(self) -> Chart:
        return self.load.bar(self.department)


@dataclass(frozen=True, slots=True)
class Floor:
    columns: list[Column]
    rows: list[Row]
    in_house: int
    sheet: GaugeSheet


def floor(wanted: Filter) -> Floor:
    """Everything the Floor shows, in a fixed number of queries whatever stands in the house."""
    stages = catalogue.stages_by_id()
    departments = catalogue.departments()
    instruments = Instrument.objects.in_the_house()
    open_work = standings(Task.objects.filter(instrument__in=instruments.values("pk")), stages)
    counts = _counts(instruments)
    sheet = GaugeSheet()
    rows = [
        Row(
            instrument,
            [
                _crossing(department, open_work_of, counts[instrument.pk, department.pk], stages)
                for department, open_work_of in _by_department(departments, open_work_here)
            ],
            clock.today(),
        )
        for instrument, open_work_here in _by_instrument(instruments, wanted, open_work)
    ]
    rows = [row for row in rows if row.fits(wanted.only)]
    return Floor(_columns(departments, open_work), rows, instruments.count(), sheet)


def _by_instrument(
    instruments: InstrumentQuerySet, wanted: Filter, open_work: list[Standing]
) -> list[tuple[Instrument, list[Standing]]]:
    here: dict[int, list[Standing]] = defaultdict(list)
    for standing in open_work:
        here[standing.instrument_id].append(standing)
    return [(one, here[one.pk]) for one in _wanted(instruments, wanted)]


def _wanted(instruments: InstrumentQuerySet, wanted: Filter) -> InstrumentQuerySet:
    return instruments.matching(wanted.words, by_owner=wanted.by_owner).order_by(*_FLOOR_ORDER)


_FLOOR_ORDER = (F("promised_on").asc(nulls_last=True), "arrived_on", "number")


def _by_department(
    departments: list[Department], work: list[Standing]
) -> list[tuple[Department, list[Standing]]]:
    return [(one, [row for row in work if row.department_id == one.pk]) for one in departments]


def _counts(instruments: QuerySet[Instrument]) -> dict[tuple[int, int], tuple[int, int]]:
    """Per instrument and department: how many tasks are signed, of how many."""
    counted = (
        Task.objects.in_the_job()
        .filter(instrument__in=instruments.values("pk"))
        .values_list("instrument_id", "department_id", "stage__kind")
        .annotate(tasks=Count("pk"))
    )
    counts: dict[tuple[int, int], tuple[int, int]] = defaultdict(lambda: (0, 0))
    for instrument_id, department_id, kind, tasks in counted:
        signed, total = counts[instrument_id, department_id]
        counts[instrument_id, department_id] = (
            signed + tasks * (kind == Stage.Kind.SIGNED),
            total + tasks,
        )
    return counts


def _crossing(
    department: Department, work: list[Standing], counted: tuple[int, int], stages: dict[int, Stage]
) -> Crossing:
    shown = min(work, key=lambda row: SHOWN_FIRST.index(row.state), default=None)
    gauge = _gauge(department, shown, stages) if shown else None
    return Crossing(department, shown, gauge, *counted)


def _gauge(department: Department, shown: Standing, stages: dict[int, Stage]) -> Gauge:
    return Gauge(
        kinds=tuple(stages[pk].kind for pk in shown.path),
        at=shown.at,
        stopped=shown.state is State.STOPPED,
        material=department.material or "neutral",
        words=gauge_words(
            department=f"{department.name}, {shown.name}",
            stage=shown.stage.name,
            at=shown.at,
            of=len(shown.path),
            stopped_by=shown.stopped_by,
        ),
    )


def _columns(departments: list[Department], open_work: list[Standing]) -> list[Column]:
    hours = hands_on_hours_a_week()
    return [
        Column(one, load_of(work, hours_a_week=hours.get(one.pk, Decimal(0))))
        for one, work in _by_department(departments, open_work)
    ]
