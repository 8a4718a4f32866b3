"""Everything that may stand in the way of tasks, read once for as many as are asked about."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Collection, Iterable, Mapping, Sequence
from dataclasses import dataclass, field
from datetime import datetime

from django.db.models import Max

from shopflow.catalogue.knowledge import knowledge
from shopflow.catalogue.models import Stage
from shopflow.common import clock
from shopflow.compute.worknet import Knowledge
from shopflow.workshop.models import Move, Snag, Task, TaskNeed, TaskPhoto
from shopflow.workshop.selectors.stay import Stay, stays_of
from shopflow.workshop.services.final_check import is_final_check, lacking, unanswered_for

from .moments import last_hands, stays_began

_IN_HAND = {Stage.Kind.BENCHED, Stage.Kind.PROVING}


@dataclass(frozen=True, slots=True)
class Wait:
    """A task on which another one waits: what it is, where, at which stage, and why that comes first."""

    name: str
    department: str
    stage: str
    reason: str = ""


@dataclass(frozen=True, slots=True)
class Facts:
    """What was read for a number of tasks, by their keys; stays by instrument, knowledge by kind."""

    now: datetime
    known: Mapping[str, Knowledge] = field(default_factory=dict)
    stays: Mapping[int, Stay] = field(default_factory=dict)
    snags: Mapping[int, Sequence[Snag]] = field(default_factory=dict)
    waits: Mapping[int, Sequence[Wait]] = field(default_factory=dict)
    photographed: Mapping[int, datetime] = field(default_factory=dict)
    began: Mapping[int, datetime] = field(default_factory=dict)
    hands: Mapping[int, int] = field(default_factory=dict)
    # Of final checks alone: what is unsafe and unanswered for, and what proof is lacking.
    unsafe: Mapping[int, str] = field(default_factory=dict)
    lacking: Mapping[int, Sequence[str]] = field(default_factory=dict)

    def is_of_this_stay(self, latest: datetime | None, task: Task) -> bool:
        """Whether something was recorded since the task's present stay in its stage began."""
        return latest is not None and latest >= self.began.get(task.pk, task.created_at)


def read_facts(tasks: Iterable[Task]) -> Facts:
    """The facts for these tasks, in a fixed number of queries, and a few more for each final check in hand.

    Their stage, operation and instrument are at hand; each is asked about in the stage that it bears here.
    """
    rows = list(tasks)
    apart = {task.instrument for task in rows if task.stage.kind not in _IN_HAND}
    asked = [task for task in rows if task.stage.needs_photo or task.stage.needs_reading]
    checks = [
        task for task in rows if task.stage.kind != Stage.Kind.RACKED and is_final_check(task.operation)
    ]
    return Facts(
        now=clock.now(),
        known={kind: knowledge(kind) for kind in {task.instrument.kind for task in rows}},
        stays=stays_of(apart) if apart else {},
        snags=_snags([task.pk for task in rows]),
        waits=_waits([task.pk for task in rows if task.stage.kind == Stage.Kind.RACKED]),
        photographed=_photographed([task.pk for task in rows if task.stage.needs_photo]),
        began=stays_began(asked) if asked else {},
        hands=_hands([task.pk for task in rows if task.stage.needs_second_eyes]),
        unsafe={task.pk: unanswered_for(task.instrument) for task in checks},
        lacking={task.pk: [one.words for one in lacking(task.instrument)] for task in checks},
    )


def _snags(tasks: Collection[int]) -> dict[int, list[Snag]]:
    found: dict[int, list[Snag]] = defaultdict(list)
    for snag in (
        Snag.objects.open().filter(task__in=tasks).select_related("owner").order_by("raised_at", "pk")
    ):
        found[snag.task_id].append(snag)
    return found


def _waits(tasks: Collection[int]) -> dict[int, list[Wait]]:
    """For each task on the rack: the open tasks that it waits for."""
    if not tasks:
        return {}
    needs = (
        TaskNeed.objects.filter(task__in=tasks, needs__dropped_at=None)
        .exclude(needs__stage__kind=Stage.Kind.SIGNED)
        .order_by("needs__position", "needs__pk")
        .values_list("task_id", "needs__name", "needs__department__name", "needs__stage__name", "reason")
    )
    found: dict[int, list[Wait]] = defaultdict(list)
    for pk, name, department, stage, reason in needs:
        found[pk].append(Wait(name, department, stage, reason))
    return found


def _photographed(tasks: Collection[int]) -> dict[int, datetime]:
    """When each of these tasks was last photographed."""
    if not tasks:
        return {}
    photos = TaskPhoto.objects.that_show().filter(task__in=tasks).values_list("task")
    return dict(photos.annotate(latest=Max("photo__added_at")).order_by())


def _hands(tasks: Collection[int]) -> dict[int, int]:
    return last_hands(Move.objects.filter(task__in=tasks)) if tasks else {}
