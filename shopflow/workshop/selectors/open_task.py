"""One task laid open: what may hurt, what to record, its way, its snags, hours and story."""

from __future__ import annotations

from dataclasses import dataclass
from decimal import Decimal

from django.db.models import Q
from django.http import Http404

from shopflow.catalogue.models import Caution, Stage
from shopflow.common import clock
from shopflow.instruments.selectors.crates import Missing
from shopflow.people import access
from shopflow.people.access import Deed
from shopflow.people.models import Person
from shopflow.people.taps import LATE_AFTER
from shopflow.workshop.models import HoursSpent, Move, Snag, Task
from shopflow.workshop.services.moves import UNDO_WITHIN, question_before_undo

from .bench_rows import BenchRow, bench_rows
from .parts import missing_at


@dataclass(frozen=True, slots=True)
class StoryLine:
    """One move of the task, as its story tells it."""

    move: Move

    @property
    def is_late(self) -> bool:
        """Whether the tap was kept on its tablet for a while before it was received."""
        return self.move.recorded_at - self.move.tapped_at > LATE_AFTER


@dataclass(frozen=True, slots=True)
class Reminder:
    """A caution with its first sentence apart: the one that stays in sight while hands are at work."""

    caution: Caution

    @property
    def first(self) -> str:
        head, stop, _ = self.caution.text.partition(". ")
        return head + stop.strip()

    @property
    def rest(self) -> str:
        return self.caution.text.partition(". ")[2]


@dataclass(frozen=True, slots=True)
class OpenTask:
    """Everything a task's page shows; `row` is None when the task is signed or dropped."""

    task: Task
    row: BenchRow | None
    cautions: list[Reminder]
    story: list[StoryLine]
    past_snags: list[Snag]
    hours: list[HoursSpent]
    may_act: bool
    may_override: bool
    undoable: Move | None
    undo_question: str = ""
    missing: Missing | None = None

    @property
    def hours_total(self) -> Decimal:
        return sum((entry.hours for entry in self.hours), Decimal(0))

    @property
    def is_not_begun(self) -> bool:
        return self.task.stage.kind == Stage.Kind.RACKED

    @property
    def back_to(self) -> list[Stage]:
        """The stages already passed, the nearest first."""
        return self.row.path[: self.row.at][::-1] if self.row else []


def task_or_404(pk: int) -> Task:
    related = ("instrument", "department", "operation", "stage", "person", "dropped_by")
    task = Task.objects.select_related(*related).filter(pk=pk).first()
    if task is None:
        raise Http404("There is no such task.")
    return task


def open_task(task: Task, *, viewer: Person) -> OpenTask:
    rows = bench_rows(Task.objects.open().filter(pk=task.pk), viewer=viewer)
    moves = task.moves.select_related("by", "tablet", "origin", "target").order_by("-pk")
    story = [StoryLine(move) for move in moves]
    undoable = _undoable(story, viewer)
    return OpenTask(
        task=task,
        row=rows[0] if rows else None,
        cautions=_cautions(task),
        story=story,
        past_snags=list(task.snags.exclude(cleared_at=None).select_related("owner", "cleared_by")),
        hours=list(task.hours_spent.select_related("person")),
        may_act=access.may(viewer, Deed.WORK_AT_BENCH, bench=task.department),
        may_override=access.may(viewer, Deed.OVERRIDE),
        undoable=undoable,
        undo_question=question_before_undo(undoable, by=viewer),
        missing=missing_at(task) if rows else None,
    )


def _cautions(task: Task) -> list[Reminder]:
    """Of what is done, and of the stage in which it is."""
    wanted = Q(stages=task.stage_id)
    if task.operation_id:
        wanted |= Q(operations=task.operation_id)
    found = Caution.objects.filter(wanted).distinct()
    return [Reminder(caution) for caution in found]


def _undoable(story: list[StoryLine], viewer: Person) -> Move | None:
    """The last move, if this person may take it back; the service asks again when it comes to it."""
    if not story or story[0].move.undoes_id is not None:
        return None
    last = story[0].move
    own_and_fresh = last.by_id == viewer.pk and clock.now() - last.recorded_at <= UNDO_WITHIN
    return last if own_and_fresh or access.may(viewer, Deed.UNDO_OTHERS) else None
