"""What the ledger proves of an instrument's present stay, for the report that goes home with it."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from datetime import datetime

from django.db.models import Max

from shopflow.catalogue.knowledge import knowledge
from shopflow.catalogue.models import Stage
from shopflow.compute.proof import Claim, Proof, Reads
from shopflow.instruments.models import Instrument
from shopflow.workshop.models import Move, Passage, Task
from shopflow.workshop.selectors.stay import Stay, stay_of


@dataclass(frozen=True, slots=True)
class Proved:
    """One stay: its signed tasks, what they prove, and since when it lasts (None: the first one)."""

    stay: Stay
    tasks: tuple[Task, ...]
    proof: Proof
    began: Mapping[int, datetime]
    since: datetime | None

    def signed_on(self, claim: Claim) -> datetime:
        return self.tasks[claim.place].stage_since

    def is_of_this_stay(self, moment: datetime | None) -> bool:
        return moment is not None and (self.since is None or moment >= self.since)

    def read_since(self, reads: Reads) -> datetime | None:
        """From when a reading after the work counts: no work on what it reads was begun later."""
        place = self.proof.last_that_changed(reads)
        return self._began(self.tasks[place]) if place is not None else self.since

    def read_since_at(self, department: int | None) -> datetime | None:
        """The same for what nobody knows how it is changed: by any work of that department."""
        begun = [self._began(task) for task in self.tasks if task.department_id == department]
        return max(begun, default=self.since)

    def _began(self, task: Task) -> datetime:
        return self.began.get(task.pk, task.stage_since)


def proved(instrument: Instrument) -> Proved:
    """Six queries, whatever the number of its tasks."""
    stay = stay_of(instrument)
    tasks = tuple(task for task in stay.signed_tasks if task.operation)
    return Proved(
        stay=stay,
        tasks=tasks,
        proof=Proof(knowledge(instrument.kind), (task.operation.code for task in tasks if task.operation)),
        began=_began(tasks),
        since=stay_began(instrument),
    )


def stay_began(instrument: Instrument) -> datetime | None:
    """When what happened to it began to belong to this stay: when it last went home; None in its first."""
    passages = Passage.objects.filter(instrument=instrument)
    came_back = passages.filter(kind=Passage.Kind.RETURNED).aggregate(last=Max("pk"))["last"]
    if came_back is None:
        return None
    left = passages.filter(kind=Passage.Kind.LEFT, pk__lt=came_back).order_by("-pk")
    return left.values_list("recorded_at", flat=True).first()


def _began(tasks: tuple[Task, ...]) -> dict[int, datetime]:
    """When each task was last taken up from the rack."""
    taken = Move.objects.filter(task__in=tasks, origin__kind=Stage.Kind.RACKED, undone_by=None, undoes=None)
    return dict(taken.order_by().values_list("task_id").annotate(last=Max("recorded_at")))
