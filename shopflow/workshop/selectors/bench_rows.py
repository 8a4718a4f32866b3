"""The tasks of a bench as its tablet shows them: where each stands, what is next, what stands in the way."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Collection, Iterable
from dataclasses import dataclass, field
from datetime import date, datetime

from django.db.models import Max, QuerySet

from shopflow.catalogue import selectors as catalogue
from shopflow.catalogue.models import Stage
from shopflow.common import clock
from shopflow.common.gauges import Gauge, gauge_words
from shopflow.people.models import Person
from shopflow.workshop.models import Move, Snag, Task, TaskNeed, TaskPhoto
from shopflow.workshop.services.order import (
    asks_for_reading,
    last_hands,
    live_path,
    next_stage,
    stays_began,
)

from .next_step import NextStep, next_step
from .standing import Standing, State, standings
from .turn import why_now


@dataclass(frozen=True, slots=True)
class BenchRow:
    """One open task, with all that a hand has to know before touching it."""

    task: Task
    standing: Standing
    path: list[Stage]
    step: NextStep | None
    why: str
    now: datetime
    snags: list[Snag] = field(default_factory=list)
    waits_for: list[str] = field(default_factory=list)
    photo_missing: bool = False
    reading_missing: bool = False
    asks_for_reading: bool = False
    needs_someone_else: bool = False

    @property
    def state(self) -> State:
        if self.standing.state is State.READY and self.waits_for:
            return State.WAITING
        return self.standing.state

    @property
    def rest_is_over(self) -> bool:
        until = self.standing.rest_until
        return self.state is State.RESTING and (until is None or until <= self.now)

    @property
    def is_free_to_go(self) -> bool:
        """Whether the next step needs nothing more than a tap."""
        return self.step is not None and not self.is_held

    @property
    def is_held(self) -> bool:
        asked = self.photo_missing or self.reading_missing or self.needs_someone_else
        return asked or self.is_too_early or self.state in {State.STOPPED, State.WAITING}

    @property
    def has_sheet(self) -> bool:
        """Whether its work is done with a bench sheet at hand."""
        return self.task.operation is not None and bool(self.task.operation.sheet)

    @property
    def is_too_early(self) -> bool:
        """Whether it rests, and has to rest longer."""
        return self.standing.rest_until is not None and self.standing.rest_until > self.now

    @property
    def at(self) -> int:
        return [stage.pk for stage in self.path].index(self.task.stage_id)

    @property
    def stage_names(self) -> list[str]:
        return [stage.name for stage in self.path]

    @property
    def gauge(self) -> Gauge:
        stopped_by = self.snags[0].reason if self.snags else ""
        department = self.task.department
        return Gauge(
            kinds=tuple(stage.kind for stage in self.path),
            at=self.at,
            stopped=bool(self.snags),
            words=gauge_words(
                department=department.name,
                stage=self.task.stage.name,
                at=self.at,
                of=len(self.path),
                stopped_by=stopped_by,
            ),
            material=department.material or "neutral",
        )


@dataclass(frozen=True, slots=True)
class _Facts:
    """What was read once for all rows."""

    stages: dict[int, Stage]
    standings: dict[int, Standing]
    snags: dict[int, list[Snag]]
    waits: dict[int, list[str]]
    photographed: dict[int, datetime]
    stays: dict[int, datetime]
    last_hands: dict[int, int]
    viewer: Person
    now: datetime
    today: date


def bench_rows(tasks: QuerySet[Task], *, viewer: Person) -> list[BenchRow]:
    """A row for every open task of this queryset, in ten queries at most, whatever their number."""
    stages = catalogue.stages_by_id()
    found = {standing.task_id: standing for standing in standings(tasks, stages)}
    rows = list(
        Task.objects.filter(pk__in=found).select_related("instrument", "department", "operation", "person")
    )
    facts = _Facts(
        stages=stages,
        standings=found,
        snags=_snags(found),
        waits=_waits(found),
        photographed=_photographed(pk for pk, one in found.items() if one.stage.needs_photo),
        stays=_stays(row for row in rows if _asks(found[row.pk].stage)),
        last_hands=_last_hands(pk for pk, one in found.items() if one.stage.needs_second_eyes),
        viewer=viewer,
        now=clock.now(),
        today=clock.today(),
    )
    return [_row(task, facts) for task in rows]


def _row(task: Task, facts: _Facts) -> BenchRow:
    standing = facts.standings[task.pk]
    # The standing's own stage: a move between two of these queries must not mix two moments.
    task.stage = here = standing.stage
    following = next_stage(task, facts.stages)
    asks = asks_for_reading(here, task.operation)
    photographed = facts.photographed.get(task.pk)
    return BenchRow(
        task=task,
        standing=standing,
        path=live_path(task, facts.stages),
        step=next_step(here, following) if following else None,
        why=why_now(task, today=facts.today),
        now=facts.now,
        snags=facts.snags.get(task.pk, []),
        waits_for=_waits_for_the_instrument(task) + facts.waits.get(task.pk, []),
        photo_missing=here.needs_photo and not _is_of_this_stay(photographed, task, facts),
        reading_missing=asks and not _is_of_this_stay(task.read_at, task, facts),
        asks_for_reading=asks,
        needs_someone_else=here.needs_second_eyes and facts.last_hands.get(task.pk) == facts.viewer.pk,
    )


def _is_of_this_stay(latest: datetime | None, task: Task, facts: _Facts) -> bool:
    return latest is not None and latest >= facts.stays.get(task.pk, task.created_at)


def _asks(stage: Stage) -> bool:
    return stage.needs_photo or stage.needs_reading


def _stays(tasks: Iterable[Task]) -> dict[int, datetime]:
    asked = list(tasks)
    return stays_began(asked) if asked else {}


def _photographed(tasks: Iterable[int]) -> dict[int, datetime]:
    """When each of these tasks was last photographed."""
    photos = TaskPhoto.objects.that_show().filter(task__in=list(tasks)).values_list("task")
    return dict(photos.annotate(latest=Max("photo__added_at")).order_by())


def _last_hands(tasks: Iterable[int]) -> dict[int, int]:
    return last_hands(Move.objects.filter(task__in=list(tasks)))


def _snags(tasks: Collection[int]) -> dict[int, list[Snag]]:
    found: dict[int, list[Snag]] = defaultdict(list)
    for snag in Snag.objects.open().filter(task__in=tasks).select_related("owner"):
        found[snag.task_id].append(snag)
    return found


def _waits(tasks: Collection[int]) -> dict[int, list[str]]:
    """For each task on the rack: what it waits for, in which department, at which stage."""
    needs = (
        TaskNeed.objects.filter(task__in=tasks, task__stage__kind=Stage.Kind.RACKED, needs__dropped_at=None)
        .exclude(needs__stage__kind=Stage.Kind.SIGNED)
        .order_by("needs__position", "needs__pk")
        .values_list("task_id", "needs__name", "needs__department__name", "needs__stage__name")
    )
    found: dict[int, list[str]] = defaultdict(list)
    for pk, name, department, stage in needs:
        found[pk].append(f"{name}, in {department}, now “{stage}”")
    return found


def _waits_for_the_instrument(task: Task) -> list[str]:
    piano = task.instrument
    if task.stage.kind != Stage.Kind.RACKED:
        return []
    if task.at_the_owners:
        return [] if piano.left_on else ["the instrument to leave: this is done at the owner's"]
    return [] if piano.arrived_on else ["the instrument to arrive"]
