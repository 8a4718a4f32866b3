"""Where the open work stands: which tasks are ready, on a bench, resting, stopped, or waiting for others."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from datetime import datetime
from decimal import Decimal
from enum import StrEnum

from django.db.models import QuerySet

from shopflow.catalogue.models import Department, Stage
from shopflow.catalogue.selectors import the_shop
from shopflow.common import charts
from shopflow.common.charts import Chart
from shopflow.people.selectors import weekly_hours_by_department
from shopflow.workshop.models import Snag, Task, TaskNeed


class State(StrEnum):
    """The state of one open task, in the order in which a bench looks at them."""

    STOPPED = "stopped"
    PROVING = "proving"
    BENCHED = "on the bench"
    RESTING = "resting"
    READY = "ready to take"
    WAITING = "waiting for other work"


@dataclass(frozen=True, slots=True)
class Standing:
    """One open task as Floor and Bench see it."""

    task_id: int
    instrument_id: int
    department_id: int
    name: str
    stage: Stage
    path: tuple[int, ...]
    state: State
    hours: Decimal
    since: datetime
    rest_until: datetime | None
    stopped_by: str = ""

    @property
    def at(self) -> int:
        return self.path.index(self.stage.pk)

    @property
    def is_to_hand(self) -> bool:
        """Whether hands can be put on it now, or are on it already."""
        return self.state in {State.PROVING, State.BENCHED, State.READY}


def standings(tasks: QuerySet[Task], stages: dict[int, Stage]) -> list[Standing]:
    """The standing of every open task of this queryset, in three queries."""
    open_tasks = tasks.filter(dropped_at=None).exclude(stage__kind=Stage.Kind.SIGNED)
    rows = open_tasks.order_by("position", "pk").values_list(
        "pk",
        "instrument_id",
        "department_id",
        "name",
        "stage_id",
        "path",
        "hours_likely",
        "stage_since",
        "earliest_touch",
    )
    waiting = _waiting(tasks)
    stopped = _stopped(tasks)
    return [_standing(row, stages, waiting, stopped) for row in rows]


def _waiting(tasks: QuerySet[Task]) -> set[int]:
    """The tasks that need another one that is not signed yet."""
    needs = TaskNeed.objects.filter(
        task__in=tasks.values("pk"), task__stage__kind=Stage.Kind.RACKED, needs__dropped_at=None
    ).exclude(needs__stage__kind=Stage.Kind.SIGNED)
    return set(needs.values_list("task_id", flat=True))


def _stopped(tasks: QuerySet[Task]) -> dict[int, str]:
    snags = Snag.objects.open().filter(task__in=tasks.values("pk"))
    return dict(snags.values_list("task_id", "reason"))


def _standing(
    row: tuple[int, int, int, str, int, list[int], Decimal, datetime, datetime | None],
    stages: dict[int, Stage],
    waiting: set[int],
    stopped: dict[int, str],
) -> Standing:
    pk, instrument_id, department_id, name, stage_id, path, hours, since, earliest_touch = row
    stage = stages[stage_id]
    return Standing(
        task_id=pk,
        instrument_id=instrument_id,
        department_id=department_id,
        name=name,
        stage=stage,
        path=tuple(path),
        state=_state(stage, is_stopped=pk in stopped, is_waiting=pk in waiting),
        hours=hours,
        since=since,
        rest_until=earliest_touch,
        stopped_by=stopped.get(pk, ""),
    )


def _state(stage: Stage, *, is_stopped: bool, is_waiting: bool) -> State:
    if is_stopped:
        return State.STOPPED
    if stage.kind == Stage.Kind.RACKED:
        return State.WAITING if is_waiting else State.READY
    return {
        Stage.Kind.BENCHED: State.BENCHED,
        Stage.Kind.RESTING: State.RESTING,
        Stage.Kind.PROVING: State.PROVING,
    }[Stage.Kind(stage.kind)]


@dataclass(frozen=True, slots=True)
class Load:
    """The work in front of one department."""

    hours_ready: Decimal
    hours_a_week: Decimal
    open_tasks: int
    stopped: int

    @property
    def days(self) -> float | None:
        """Days of work in front of the bench at its usual pace; None where nobody works there."""
        if not self.hours_a_week:
            return None
        return float(self.hours_ready / self.hours_a_week) * 5

    def bar(self, department: Department) -> Chart:
        """Hours ready against the hours of a week, as a small bar."""
        wanted = charts.Load(department.name, self.hours_ready, self.hours_a_week, department.material)
        return charts.load_bar(title=f"{department.name}: hours ready, hours a week", load=wanted)

    @property
    def word(self) -> str:
        """Under a week is starving, over four is swamped (common practice, no source)."""
        if self.days is None:
            return "no hands" if self.hours_ready else ""
        if self.days < 5:
            return "starving"
        return "swamped" if self.days > 20 else ""


def hands_on_hours_a_week() -> dict[int, Decimal]:
    """Hands-on hours to be had in a usual week, by department (its id)."""
    share = the_shop().hands_on_share
    return {department: paid * share for department, paid in weekly_hours_by_department().items()}


def load_of(rows: Iterable[Standing], *, hours_a_week: Decimal) -> Load:
    """What stands in front of a bench: the hours that could be worked on now, and the rest in counts."""
    rows = list(rows)
    return Load(
        hours_ready=sum((row.hours for row in rows if row.is_to_hand), Decimal(0)),
        hours_a_week=hours_a_week,
        open_tasks=len(rows),
        stopped=sum(row.state is State.STOPPED for row in rows),
    )
