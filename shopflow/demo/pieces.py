"""What the play moves about: jobs, pianos and workers, as it knows them between two moments."""

from __future__ import annotations

from dataclasses import dataclass, field
from datetime import date, datetime, timedelta
from decimal import Decimal

from shopflow.catalogue.models import Stage
from shopflow.instruments.models import Instrument
from shopflow.people.models import Person, Tablet
from shopflow.workshop.models import Snag, Task

from .opening import Opening

WORKING = frozenset({Stage.Kind.BENCHED, Stage.Kind.PROVING})


@dataclass(slots=True, eq=False)
class Job:
    """A task as the play knows it: how much is left of the stage it stands in, and whom it waits for."""

    task: Task
    piano: Piano
    stages: list[Stage]
    department: str
    needs: set[int]
    hours: float
    rest: timedelta
    at: int = 0
    left: float = 0.0
    worker: Worker | None = None
    last_hands: Worker | None = None
    snag: Snag | None = None
    mishap: bool = False

    @property
    def code(self) -> str:
        return self.task.operation.code if self.task.operation else ""

    @property
    def kind(self) -> str:
        return self.stages[self.at].kind

    @property
    def following(self) -> str:
        """The kind of the stage that comes next."""
        return self.stages[self.at + 1].kind

    @property
    def is_signed(self) -> bool:
        return self.kind == Stage.Kind.SIGNED

    def hours_of_stage(self) -> float:
        working = sum(stage.kind in WORKING for stage in self.stages)
        hours = self.hours / max(1, working)
        return min(0.4, hours) if self.kind == Stage.Kind.PROVING else hours


@dataclass(slots=True, eq=False)
class Piano:
    instrument: Instrument
    route: str
    jobs: list[Job] = field(default_factory=list)
    signed: list[Task] = field(default_factory=list)
    # What the shop last said of each task of it that somebody would take: cleared when something changes.
    answers: dict[int, bool] = field(default_factory=dict)

    @property
    def due(self) -> date:
        return self.instrument.promised_on or date.max

    @property
    def is_under_way(self) -> bool:
        return bool(self.jobs) and self.instrument.finished_on is None

    @property
    def is_through(self) -> bool:
        """All is signed that is signed in the shop."""
        return bool(self.jobs) and all(job.is_signed for job in self.jobs if not job.task.at_the_owners)


@dataclass(slots=True, eq=False)
class Worker:
    person: Person
    home: str
    also: tuple[str, ...]
    week: dict[int, float]
    pace: float
    tablet: Tablet | None
    away: set[date] = field(default_factory=set)
    job: Job | None = None
    unwritten: float = 0.0

    @property
    def benches(self) -> tuple[str, ...]:
        return (self.home, *self.also)

    def shift(self, day: date, opening: Opening) -> tuple[datetime, datetime] | None:
        paid = self.week.get(day.weekday(), 0)
        if not paid or day in self.away or not opening.is_open(day):
            return None
        begin = opening.at(day, 8)
        return begin, begin + timedelta(hours=paid)


def urgency(worker: Worker, job: Job) -> tuple[bool, int, bool, date, int]:
    """Proofs first, then the own bench, what has rested, the nearest promise, the order of the list."""
    bench = worker.benches.index(job.department)
    is_proof = job.kind == Stage.Kind.PROVING
    return (not is_proof, bench, job.kind == Stage.Kind.RACKED, job.piano.due, job.task.position)


def quarters(spent: float) -> Decimal:
    return Decimal(max(1, round(spent * 4))) / 4
