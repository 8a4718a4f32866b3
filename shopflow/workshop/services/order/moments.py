"""What the ledger tells of a task: since when it stands where it stands, and whose hands it had last."""

from __future__ import annotations

from collections.abc import Iterable
from datetime import UTC, datetime, timedelta
from decimal import Decimal

from django.db.models import QuerySet
from django.utils import timezone

from shopflow.catalogue.models import Stage
from shopflow.workshop.models import Move, Task


def earliest_touch(stage: Stage, *, since: datetime, least_hours: Decimal) -> datetime | None:
    """When what entered this stage at `since` may be touched again; None where nothing has to rest."""
    if stage.kind != Stage.Kind.RESTING or not least_hours:
        return None
    # By the clock of the world: hours of rest do not grow or shrink when the clocks are changed.
    return since.astimezone(UTC) + timedelta(hours=float(least_hours))


def in_words(moment: datetime) -> str:
    """
    >>> from datetime import UTC
    >>> in_words(datetime(2026, 12, 3, 14, 30, tzinfo=UTC))
    'Thu 3 Dec, 14:30'
    """
    local = timezone.localtime(moment)
    return f"{local:%a} {local.day} {local:%b, %H:%M}"


def stay_began(task: Task) -> datetime:
    """When its present stay in its stage began: a leaving that was undone did not end it."""
    return stays_began([task]).get(task.pk, task.created_at)


def stays_began(tasks: Iterable[Task]) -> dict[int, datetime]:
    """The same for many, in one query; a task that never moved has stood there since it was laid out."""
    by_id = {task.pk: task for task in tasks}
    stays: dict[int, list[datetime]] = {pk: [task.created_at] for pk, task in by_id.items()}
    lines = Move.objects.filter(task__in=by_id).order_by("pk").values_list("task", "recorded_at", "undoes_id")
    for pk, at, undoes in lines:
        if undoes is None:
            stays[pk].append(at)
        elif len(stays[pk]) > 1:
            stays[pk].pop()
    return {pk: run[-1] for pk, run in stays.items()}


def last_hands(moves: QuerySet[Move]) -> dict[int, int]:
    """By task: who last took it out of a stage with hands on it. What was undone does not count."""
    lines = list(moves.order_by("pk").values_list("pk", "task_id", "by_id", "origin__kind", "undoes_id"))
    # Told apart here and not in the query: asked for lines that undo nothing, SQLite reads the whole ledger.
    undone = {undoes for *_, undoes in lines}
    return {
        task: by
        for pk, task, by, kind, undoes in lines
        if kind == Stage.Kind.BENCHED and undoes is None and pk not in undone
    }
