"""Tying the open work of a job as the state of the piano asks: only what no chain of ties says already."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Collection, Iterable, Mapping, Sequence
from dataclasses import dataclass

from shopflow.catalogue.models import Stage
from shopflow.compute.worknet import Knowledge
from shopflow.workshop.models import Task, TaskNeed
from shopflow.workshop.selectors.stay import Stay

from .plan import reached

Pair = tuple[int, int]


@dataclass(frozen=True, slots=True)
class WantedTie:
    """A tie between two open tasks that the state of the piano asks for, and why."""

    earlier: Task
    later: Task
    reason: str

    @property
    def pair(self) -> Pair:
        return self.earlier.pk, self.later.pk

    def as_need(self) -> TaskNeed:
        return TaskNeed(task=self.later, needs=self.earlier, reason=self.reason[:300])


@dataclass(frozen=True, slots=True)
class Untied:
    """What the state asks of open work beyond its ties: to be tied, or against a tie by hand."""

    missing: list[WantedTie]
    against: list[WantedTie]


def pairs_of(instrument_id: int) -> list[Pair]:
    """(earlier, later) for every tie between tasks that are in the job."""
    ties = TaskNeed.objects.filter(
        task__instrument=instrument_id, task__dropped_at=None, needs__dropped_at=None
    )
    return list(ties.order_by("pk").values_list("needs_id", "task_id"))


def untied(stay: Stay, known: Knowledge, present: Sequence[Pair]) -> Untied:
    """The ties that open work lacks, by the order of the state in which the signed work left the piano.

    Work that has begun is tied to nothing more. A tie that would go round with ties there are is told apart.
    """
    stay = stay.among(known.codes)
    tasks: dict[str, list[Task]] = defaultdict(list)
    for task in stay.open_tasks:
        if task.operation is not None:
            tasks[task.operation.code].append(task)
    ties = list(present)
    found = Untied([], [])
    for before, after, _, reason in known.order(tasks, start=known.replay(stay.done)):
        for wanted in _wanted(tasks[before], tasks[after], reason):
            if wanted.later.pk in reached(wanted.earlier.pk, ties):
                continue
            if wanted.earlier.pk in reached(wanted.later.pk, ties):
                found.against.append(wanted)
            else:
                ties.append(wanted.pair)
                found.missing.append(wanted)
    return found


def _wanted(earlier: Sequence[Task], later: Sequence[Task], reason: str) -> Iterable[WantedTie]:
    racked = [task for task in later if task.stage.kind == Stage.Kind.RACKED]
    return [WantedTie(one, other, reason) for one in earlier for other in racked]


def overtaken(stay: Stay, known: Knowledge, fresh: Collection[int]) -> list[WantedTie]:
    """Work in hand that by the state of the piano comes after fresh work: one tie for each such task."""
    stay = stay.among(known.codes)
    code_of = {task.pk: task.operation.code for task in stay.open_tasks if task.operation}
    follows = {
        (tie.before, tie.after): tie.reason
        for tie in known.order(code_of.values(), start=known.replay(stay.done))
    }
    pairs = list(follows)
    found: dict[int, WantedTie] = {}
    for first in (task for task in stay.open_tasks if task.pk in fresh):
        after = reached(code_of[first.pk], pairs) - {code_of[first.pk]}
        for later in stay.open_tasks:
            begun = later.stage.kind != Stage.Kind.RACKED and later.pk not in fresh
            if begun and code_of[later.pk] in after:
                reason = follows.get((code_of[first.pk], code_of[later.pk]), "")
                found.setdefault(later.pk, WantedTie(first, later, reason))
    return list(found.values())


def tie_open_work(stay: Stay, known: Knowledge) -> list[WantedTie]:
    """Tie the open work of a stay as its state asks; tells what was tied."""
    missing = untied(stay, known, pairs_of(stay.instrument_id)).missing
    TaskNeed.objects.bulk_create([wanted.as_need() for wanted in missing])
    return missing


def places_of(fresh: Sequence[Task], there: Sequence[Task], ties: Sequence[Pair]) -> list[Task]:
    """All tasks as a list: those there as they stood, each fresh one before what waits for it, else after.

    `fresh` stands in an order of work.
    """
    line, new = list(there), {task.pk for task in fresh}
    back: Mapping[int, Task] = {task.pk: task for task in (*fresh, *there)}
    for task in fresh:
        later = reached(task.pk, ties) - new
        earlier = reached(task.pk, [(b, a) for a, b in ties])
        place = next((n for n, one in enumerate(line) if one.pk in later), None)
        if place is None:
            after = [n for n, one in enumerate(line) if one.pk in earlier]
            place = max(after) + 1 if after else len(line)
        line.insert(place, back[task.pk])
    return line
