"""How much work stood ready in front of each bench at moments that are past, by the ledger."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from datetime import datetime, timedelta

from django.db.models import Q

from shopflow.catalogue.models import Stage
from shopflow.catalogue.selectors import stages_by_id
from shopflow.workshop.models import Move, Snag, Task, TaskNeed

WEEKS = 3


def weeks_before(now: datetime) -> list[datetime]:
    """The same moment of the last three weeks, the earliest first."""
    return [now - timedelta(weeks=weeks) for weeks in range(WEEKS, 0, -1)]


def ready_hours(moments: Sequence[datetime]) -> list[dict[int, float]]:
    """Hours that hands could be put on at each moment, by department (its id). Five queries."""
    ledger = _Ledger.since(min(moments))
    return [ledger.ready(moment) for moment in moments]


@dataclass(slots=True)
class _Ledger:
    """What was open at any time since a moment, and everything that moved or stopped it."""

    kinds: Mapping[int, str]
    tasks: list[Task]
    moves: dict[int, list[tuple[datetime, int]]] = field(default_factory=lambda: defaultdict(list))
    needs: dict[int, list[int]] = field(default_factory=lambda: defaultdict(list))
    stops: dict[int, list[tuple[datetime, datetime | None]]] = field(
        default_factory=lambda: defaultdict(list)
    )

    @classmethod
    def since(cls, first: datetime) -> _Ledger:
        open_then = ~Q(stage__kind=Stage.Kind.SIGNED) | Q(stage_since__gte=first)
        in_house = Q(instrument__left_on=None) | Q(instrument__left_on__gte=first.date())
        rows = Task.objects.in_the_job().filter(open_then, in_house)
        tasks = list(rows.only("department_id", "hours_likely", "path", "created_at", "stage_id"))
        kinds = {pk: stage.kind for pk, stage in stages_by_id().items()}
        found = cls(kinds, tasks)
        ids = rows.values("pk")
        for task, at, target in (
            Move.objects.filter(task__in=ids)
            .order_by("pk")
            .values_list("task_id", "recorded_at", "target_id")
        ):
            found.moves[task].append((at, target))
        for task, needs in TaskNeed.objects.filter(task__in=ids, needs__in=ids).values_list(
            "task_id", "needs_id"
        ):
            found.needs[task].append(needs)
        for task, began, ended in Snag.objects.filter(task__in=ids).values_list(
            "task_id", "raised_at", "cleared_at"
        ):
            found.stops[task].append((began, ended))
        return found

    def ready(self, moment: datetime) -> dict[int, float]:
        stood = {task.pk: self._kind(task, moment) for task in self.tasks if task.created_at <= moment}
        hours: dict[int, float] = defaultdict(float)
        for task in self.tasks:
            if self._is_to_hand(task.pk, stood, moment):
                hours[task.department_id] += float(task.hours_likely)
        return dict(hours)

    def _kind(self, task: Task, moment: datetime) -> str:
        stage = task.path[0]
        for at, target in self.moves[task.pk]:
            if at <= moment:
                stage = target
        return self.kinds.get(stage, Stage.Kind.RACKED)

    def _is_to_hand(self, task: int, stood: Mapping[int, str], moment: datetime) -> bool:
        kind = stood.get(task)
        if kind is None or any(
            began <= moment and (ended is None or ended > moment) for began, ended in self.stops[task]
        ):
            return False
        if kind == Stage.Kind.RACKED:
            return all(stood.get(need) in {None, Stage.Kind.SIGNED} for need in self.needs[task])
        return kind in {Stage.Kind.BENCHED, Stage.Kind.PROVING}
