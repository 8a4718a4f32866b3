"""One instrument's whole work: where each task stands, what waits for what, hours planned and spent."""

from __future__ import annotations

from collections import defaultdict
from dataclasses import dataclass, field
from decimal import Decimal

from django.db.models import Max, Sum

from shopflow.catalogue import selectors as catalogue
from shopflow.catalogue.models import Department, Stage
from shopflow.common.gauges import Gauge, GaugeSheet, gauge_words
from shopflow.instruments.models import Instrument
from shopflow.instruments.selectors import instrument_or_404 as instrument_or_404
from shopflow.workshop.models import HoursSpent, Move, Snag, Task, TaskNeed
from shopflow.workshop.services.order import live_path

from .standing import Standing, State, standings

SIGNED = "signed"
# What one wants to hear first when asking what an instrument waits for.
TOLD_FIRST = [State.STOPPED, State.RESTING, State.PROVING, State.BENCHED, State.READY]


@dataclass(frozen=True, slots=True)
class Needed:
    """A task that another one waits for, and why; no reason where somebody tied them by hand."""

    task: Task
    reason: str = ""

    @property
    def is_open(self) -> bool:
        return self.task.stage.kind != Stage.Kind.SIGNED


@dataclass(frozen=True, slots=True)
class TaskLine:
    """One task as its instrument's page shows it; `standing` is None once it is signed."""

    task: Task
    path: list[Stage]
    standing: Standing | None
    spent: Decimal
    snags: list[Snag] = field(default_factory=list)
    needed: list[Needed] = field(default_factory=list)
    last_hand: str = ""

    @property
    def state(self) -> str:
        return self.standing.state if self.standing else SIGNED

    @property
    def needs(self) -> list[Task]:
        return [tie.task for tie in self.needed]

    @property
    def open_needs(self) -> list[Needed]:
        return [tie for tie in self.needed if tie.is_open]

    @property
    def at(self) -> int:
        return [stage.pk for stage in self.path].index(self.task.stage_id)

    @property
    def gauge(self) -> Gauge:
        department, stopped_by = self.task.department, self.snags[0].reason if self.snags else ""
        return Gauge(
            kinds=tuple(stage.kind for stage in self.path),
            at=self.at,
            stopped=bool(self.snags),
            material=department.material or "neutral",
            words=gauge_words(
                department=department.name,
                stage=self.task.stage.name,
                at=self.at,
                of=len(self.path),
                stopped_by=stopped_by,
            ),
        )


@dataclass(frozen=True, slots=True)
class Part:
    """What one department does on this instrument."""

    department: Department
    lines: list[TaskLine]

    @property
    def signed(self) -> int:
        return sum(line.state == SIGNED for line in self.lines)

    @property
    def is_open(self) -> bool:
        """Whether something here can be done or is under way: such a part is shown unfolded."""
        return any(line.state in TOLD_FIRST for line in self.lines)

    @property
    def planned(self) -> Decimal:
        return sum((line.task.hours_likely for line in self.lines), Decimal(0))

    @property
    def low(self) -> Decimal:
        return sum((line.task.hours_low for line in self.lines), Decimal(0))

    @property
    def high(self) -> Decimal:
        return sum((line.task.hours_high for line in self.lines), Decimal(0))

    @property
    def spent(self) -> Decimal:
        return sum((line.spent for line in self.lines), Decimal(0))


@dataclass(frozen=True, slots=True)
class Work:
    """All that is laid out for one instrument, in the order of its list."""

    lines: list[TaskLine]
    sheet: GaugeSheet

    @property
    def parts(self) -> list[Part]:
        """By department, in the shop's order of departments."""
        together: dict[Department, list[TaskLine]] = defaultdict(list)
        for line in self.lines:
            together[line.task.department].append(line)
        ordered = sorted(together, key=lambda department: (department.position, department.code))
        return [Part(department, together[department]) for department in ordered]

    @property
    def whole(self) -> Part | None:
        """Everything as if it were one department's: for the sums."""
        return Part(self.lines[0].task.department, self.lines) if self.lines else None

    @property
    def now(self) -> list[TaskLine]:
        """What it waits for: snags first, then what rests, is checked, is on a bench, could be taken."""
        told = [line for line in self.lines if line.state in TOLD_FIRST]
        return sorted(told, key=lambda line: TOLD_FIRST.index(State(line.state)))

    @property
    def is_all_signed(self) -> bool:
        return bool(self.lines) and all(line.state == SIGNED for line in self.lines)


def work_of(instrument: Instrument) -> Work:
    """The tasks of the job with all that is told of them, in nine queries whatever their number."""
    tasks = Task.objects.in_the_job().filter(instrument=instrument)
    stages = catalogue.stages_by_id()
    standing = {one.task_id: one for one in standings(tasks, stages)}
    rows = {task.pk: task for task in tasks.select_related("department", "person").order_by("position", "pk")}
    snags, spent, hands = _snags(instrument), _spent(instrument), _last_hands(instrument)
    needed: dict[int, list[Needed]] = defaultdict(list)
    for task_id, needs_id, reason in _told_ties(instrument):
        needed[task_id].append(Needed(rows[needs_id], reason))
    for task in rows.values():
        task.stage = stages[task.stage_id]
    return Work(
        [
            TaskLine(
                task=task,
                path=live_path(task, stages),
                standing=standing.get(task.pk),
                spent=spent.get(task.pk, Decimal(0)),
                snags=snags[task.pk],
                needed=sorted(needed[task.pk], key=lambda tie: (tie.task.position, tie.task.pk)),
                last_hand=hands.get(task.pk, ""),
            )
            for task in rows.values()
        ],
        GaugeSheet(),
    )


def ties_of(instrument: Instrument) -> list[tuple[int, int]]:
    """(task, what it needs) for every tie between tasks that are in the job."""
    return [(task, needs) for task, needs, _ in _told_ties(instrument)]


def _told_ties(instrument: Instrument) -> list[tuple[int, int, str]]:
    """The same with the reason of each."""
    ties = TaskNeed.objects.filter(task__instrument=instrument, task__dropped_at=None, needs__dropped_at=None)
    return list(ties.order_by("pk").values_list("task_id", "needs_id", "reason"))


def _last_hands(instrument: Instrument) -> dict[int, str]:
    """Who moved each task last; the ledger is asked for the last line of each, never for all of them."""
    moves = Move.objects.filter(task__instrument=instrument).order_by()
    last = moves.values("task").annotate(last=Max("pk")).values("last")
    return dict(Move.objects.filter(pk__in=last).order_by().values_list("task_id", "by__name"))


def _snags(instrument: Instrument) -> dict[int, list[Snag]]:
    found: dict[int, list[Snag]] = defaultdict(list)
    for snag in Snag.objects.open().filter(task__instrument=instrument).select_related("owner"):
        found[snag.task_id].append(snag)
    return found


def _spent(instrument: Instrument) -> dict[int, Decimal]:
    spent = HoursSpent.objects.filter(task__instrument=instrument).values_list("task_id")
    return dict(spent.annotate(hours=Sum("hours")).order_by())
