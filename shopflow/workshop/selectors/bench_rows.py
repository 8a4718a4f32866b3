"""The tasks of a bench as its tablet shows them: where each stands, what is next, what stands in the way."""

from __future__ import annotations

from dataclasses import dataclass, field
from datetime import date

from django.db.models import QuerySet

from shopflow.catalogue import selectors as catalogue
from shopflow.catalogue.models import Stage
from shopflow.common import clock
from shopflow.common.gauges import Gauge, gauge_words
from shopflow.people.models import Person
from shopflow.workshop.models import Snag, Task
from shopflow.workshop.services.order import (
    Facts,
    Hindrance,
    Sort,
    Step,
    asks_for_reading,
    hindrances,
    live_path,
    next_stage,
    read_facts,
)

from .next_step import NextStep, next_step
from .standing import Standing, State, standings
from .turn import why_now

# What has to happen elsewhere before this bench can do anything.
_ELSEWHERE = {Sort.HOUSE, Sort.TIE, Sort.STATE, Sort.PLACE, Sort.UNSAFE, Sort.PROOF}


@dataclass(frozen=True, slots=True)
class BenchRow:
    """One open task, with all that a hand has to know before touching it."""

    task: Task
    standing: Standing
    path: list[Stage]
    step: NextStep | None
    why: str
    snags: list[Snag] = field(default_factory=list)
    in_the_way: list[Hindrance] = field(default_factory=list)
    asks_for_reading: bool = False

    @property
    def state(self) -> State:
        if self.standing.state is State.READY and self.waits_for:
            return State.WAITING
        return self.standing.state

    @property
    def waits_for(self) -> list[Hindrance]:
        """What has to happen elsewhere first, each with what frees it."""
        return [one for one in self.in_the_way if one.sort in _ELSEWHERE]

    @property
    def rest_is_over(self) -> bool:
        return self.state is State.RESTING and not self.is_too_early

    @property
    def is_free_to_go(self) -> bool:
        """Whether the next step needs nothing more than a tap."""
        return self.step is not None and not self.in_the_way

    @property
    def photo_missing(self) -> bool:
        return self._has(Sort.PHOTO)

    @property
    def reading_missing(self) -> bool:
        return self._has(Sort.READING)

    @property
    def needs_someone_else(self) -> bool:
        return self._has(Sort.EYES)

    @property
    def is_too_early(self) -> bool:
        """Whether it rests, and has to rest longer."""
        return self._has(Sort.REST)

    @property
    def may_go_past(self) -> bool:
        """Whether a manager may go past what stands in the way, with a reason."""
        return bool(self.in_the_way) and not any(one.is_absolute for one in self.in_the_way)

    def _has(self, sort: Sort) -> bool:
        return any(one.sort is sort for one in self.in_the_way)

    @property
    def has_sheet(self) -> bool:
        """Whether its work is done with a bench sheet at hand."""
        return self.task.operation is not None and bool(self.task.operation.sheet)

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


def bench_rows(tasks: QuerySet[Task], *, viewer: Person) -> list[BenchRow]:
    """A row for every open task of this queryset, in a fixed number of queries whatever their number."""
    stages = catalogue.stages_by_id()
    found = {standing.task_id: standing for standing in standings(tasks, stages)}
    rows = list(
        Task.objects.filter(pk__in=found).select_related("instrument", "department", "operation", "person")
    )
    for task in rows:
        # The standing's own stage: a move between two of these queries must not mix two moments.
        task.stage = found[task.pk].stage
    facts, today = read_facts(rows), clock.today()
    return [_row(task, found[task.pk], stages, facts, viewer=viewer, today=today) for task in rows]


def _row(
    task: Task, standing: Standing, stages: dict[int, Stage], facts: Facts, *, viewer: Person, today: date
) -> BenchRow:
    following = next_stage(task, stages)
    step = Step(task, following, stages, viewer.pk) if following else None
    return BenchRow(
        task=task,
        standing=standing,
        path=live_path(task, stages),
        step=next_step(standing.stage, following) if following else None,
        why=why_now(task, today=today),
        snags=list(facts.snags.get(task.pk, ())),
        in_the_way=hindrances(step, facts) if step else [],
        asks_for_reading=asks_for_reading(standing.stage, task.operation),
    )
