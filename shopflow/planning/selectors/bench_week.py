"""What a bench is to do in one week, in order, with the reason: the list that hangs beside it."""

from __future__ import annotations

from collections import defaultdict
from dataclasses import dataclass
from datetime import date, datetime, time

from shopflow.catalogue.models import Department, Stage
from shopflow.catalogue.selectors import the_shop
from shopflow.compute.calendar import IsoWeek
from shopflow.planning.models import Plan, PlanLine
from shopflow.workshop.models import TaskNeed
from shopflow.workshop.selectors.turn import why_now

from .elsewhere import elsewhere
from .load import open_lines


@dataclass(frozen=True, slots=True)
class Piece:
    """One stretch of work on the list."""

    line: PlanLine
    why: str
    waiting: list[str]
    overdue: bool
    elsewhere: str = ""


def bench_week(
    plan: Plan, department: Department, week: IsoWeek, *, now: datetime, today: date
) -> list[Piece]:
    """In order of start. What was planned earlier and is not signed yet stands on this week's list first."""
    zone = the_shop().zone
    begins, ends = (
        datetime.combine(one, time(), tzinfo=zone) for one in (week.monday(), week.next().monday())
    )
    lines = open_lines(plan).filter(department=department, starts_at__lt=ends)
    if begins > now:
        lines = lines.filter(ends_at__gt=begins)
    of_tasks = ("task__stage", "task__operation", "task__instrument")
    found = list(lines.select_related(*of_tasks, "instrument").order_by("starts_at", "pk"))
    away = elsewhere(line.task for line in found)
    waiting = _waiting({line.task_id for line in found})
    return [
        Piece(
            line,
            why=_why(line, today),
            waiting=waiting.get(line.task_id, []),
            overdue=line.ends_at < now,
            elsewhere=away.get(line.task_id, "") if not line.part else "",
        )
        for line in found
    ]


def _why(line: PlanLine, today: date) -> str:
    line.task.instrument = line.instrument
    return why_now(line.task, today=today)


def _waiting(tasks: set[int]) -> dict[int, list[str]]:
    """What cannot leave the rack before each of these is signed. One query."""
    found: dict[int, list[str]] = defaultdict(list)
    ties = TaskNeed.objects.filter(needs__in=tasks, task__dropped_at=None)
    ties = ties.filter(task__stage__kind=Stage.Kind.RACKED).order_by("task__position", "pk")
    for needs, name, bench in ties.values_list("needs_id", "task__name", "task__department__name"):
        found[needs].append(f"{name} ({bench})")
    return found
