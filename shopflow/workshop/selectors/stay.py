"""What was done to an instrument in its present stay in the house, and what stands open: from the ledger."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Collection, Iterable, Mapping
from dataclasses import dataclass, replace
from datetime import datetime

from django.db.models import Max

from shopflow.catalogue.models import Operation, Stage
from shopflow.instruments.models import Instrument, Survey
from shopflow.workshop.models import Move, Passage, Task

# How a piano comes in. A job that was under way before it was written down here has no tasks for it.
RECEIVE, SURVEY = "receive", "survey"


@dataclass(frozen=True, slots=True)
class Stay:
    """One instrument's present stay: the tasks signed in it, first signed first, and the open ones.

    `start` is where the lines stood when it came, where that is not as usual; None while nothing tells so.
    """

    instrument_id: int
    signed_tasks: tuple[Task, ...] = ()
    open_tasks: tuple[Task, ...] = ()
    coming_in: tuple[str, ...] = ()
    start: Mapping[str, str] | None = None

    @property
    def done(self) -> tuple[str, ...]:
        """Codes of what was done, in the order of the ledger, each as often as it was done.

        Before them stands what is done without a task in the job: the look on which its offer rests, and all
        of the coming in of a piano that was brought in with its work under way.
        """
        codes = tuple(task.operation.code for task in self.signed_tasks if task.operation)
        planned = {*codes, *self.todo}
        untold = tuple(code for code in self.coming_in if code not in planned)
        # A look taken at the owner's counts once the piano is here: it stands behind the bringing in.
        arrived = codes.index(RECEIVE) + 1 if RECEIVE in codes else 0
        return (*codes[:arrived], *untold, *codes[arrived:])

    @property
    def todo(self) -> tuple[str, ...]:
        """Codes of the open tasks; what is in hand is not done."""
        return tuple(task.operation.code for task in self.open_tasks if task.operation)

    @property
    def is_empty(self) -> bool:
        return not self.signed_tasks and not self.open_tasks

    def among(self, codes: Collection[str]) -> Stay:
        """The same without the work that is none of these codes: another kind's, or in own words."""

        def fits(task: Task) -> bool:
            return task.operation is not None and task.operation.code in codes

        return replace(
            self,
            signed_tasks=tuple(filter(fits, self.signed_tasks)),
            open_tasks=tuple(filter(fits, self.open_tasks)),
            coming_in=tuple(code for code in self.coming_in if code in codes),
        )


def stay_of(instrument: Instrument) -> Stay:
    """The present stay of one instrument, in five queries."""
    return stays_of([instrument])[instrument.pk]


def stays_of(instruments: Iterable[Instrument]) -> dict[int, Stay]:
    """The present stays of many, by their keys, in the same five queries."""
    pks = [instrument.pk for instrument in instruments]
    came_back = _came_back(pks)
    tasks = Task.objects.in_the_job().filter(instrument__in=pks)
    tasks = tasks.select_related("operation", "stage", "department").order_by("position", "pk")
    open_tasks: dict[int, list[Task]] = defaultdict(list)
    signed: dict[int, Task] = {}
    for task in tasks:
        if task.stage.kind == Stage.Kind.SIGNED:
            signed[task.pk] = task
        else:
            open_tasks[task.instrument_id].append(task)
    signed_tasks = _signed_in_the_stay(signed, came_back)
    surveyed = _surveyed(pks, came_back)
    ways_in = set(Operation.objects.filter(code__in=(RECEIVE, SURVEY)).values_list("code", flat=True))

    def coming_in(pk: int) -> tuple[str, ...]:
        without_task = (
            (RECEIVE, SURVEY) if signed_tasks[pk] or open_tasks[pk] else (SURVEY,) * (pk in surveyed)
        )
        return tuple(code for code in without_task if code in ways_in)

    return {
        pk: Stay(
            instrument_id=pk,
            signed_tasks=tuple(signed_tasks[pk]),
            open_tasks=tuple(open_tasks[pk]),
            coming_in=coming_in(pk),
        )
        for pk in pks
    }


def _came_back(instruments: Collection[int]) -> dict[int, datetime]:
    """Since when the present stay lasts, for what was here before; all else has had one stay only."""
    returns = Passage.objects.filter(instrument__in=instruments, kind=Passage.Kind.RETURNED).order_by()
    return dict(returns.values_list("instrument_id").annotate(latest=Max("recorded_at")))


def _signed_in_the_stay(
    signed: Mapping[int, Task], came_back: Mapping[int, datetime]
) -> dict[int, list[Task]]:
    """Tasks that stand signed, by instrument, in the order in which the signatures that still count came."""
    instruments = {task.instrument_id for task in signed.values()}
    lines = (
        Move.objects.filter(task__instrument__in=instruments, target__kind=Stage.Kind.SIGNED)
        .order_by()
        .values_list("pk", "task_id", "recorded_at", "undoes_id", "undone_by__pk")
    )
    # Sorted here and not in the query: asked for the order of the ledger, SQLite reads the whole of it.
    last = {
        task: (pk, at)
        for pk, task, at, undoes, undone in sorted(lines, key=lambda line: line[0])
        if undoes is None and undone is None
    }
    # What was put there past the ledger counts from when it was put: first of all, and never lost.
    told = {pk: last.get(pk, (0, task.stage_since)) for pk, task in signed.items()}
    found: dict[int, list[Task]] = defaultdict(list)
    for pk in sorted(told, key=lambda task: (told[task][0], signed[task].position, task)):
        task, since = signed[pk], came_back.get(signed[pk].instrument_id)
        if since is None or told[pk][1] >= since:
            found[task.instrument_id].append(task)
    return found


def _surveyed(instruments: Collection[int], came_back: Mapping[int, datetime]) -> set[int]:
    """Those that were looked over in this stay, or before they came the first time."""
    surveys = Survey.objects.filter(instrument__in=instruments).order_by()
    return {
        instrument
        for instrument, at in surveys.values_list("instrument_id", "finished_at")
        if at is not None and (instrument not in came_back or at >= came_back[instrument])
    }
