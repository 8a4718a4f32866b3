"""What the play moves about: jobs, pianos and workers, as it knows them between two moments."""

from __future__ import annotations

from dataclasses import dataclass, field
from datetime import date, datetime, time, timedelta
from decimal import Decimal
from zoneinfo import ZoneInfo

from shopflow.catalogue.models import Stage
from shopflow.instruments.models import Instrument
from shopflow.people.models import Person, Tablet
from shopflow.workshop.models import Task


@dataclass(slots=True)
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
    stopped: bool = False
    mishap: bool = False

    @property
    def kind(self) -> str:
        return self.stages[self.at].kind

    @property
    def is_signed(self) -> bool:
        return self.kind == Stage.Kind.SIGNED

    def hours_of_stage(self) -> float:
        working = sum(stage.kind in {Stage.Kind.BENCHED, Stage.Kind.PROVING} for stage in self.stages)
        return self.hours / max(1, working)


@dataclass(slots=True)
class Piano:
    instrument: Instrument
    route: str
    jobs: list[Job] = field(default_factory=list)
    started: bool = False

    @property
    def due(self) -> date:
        return self.instrument.promised_on or date.max


@dataclass(slots=True)
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

    def shift(self, day: date, zone: ZoneInfo) -> tuple[datetime, datetime] | None:
        paid = self.week.get(day.weekday(), 0)
        if not paid or day in self.away:
            return None
        begin = datetime.combine(day, time(8), tzinfo=zone)
        return begin, begin + timedelta(hours=paid)


def urgency(job: Job) -> tuple[bool, date, int]:
    """Proofs first, then the nearest promise, then the order of the route."""
    return (job.kind != Stage.Kind.PROVING, job.piano.due, job.task.position)


def quarters(spent: float) -> Decimal:
    return Decimal(max(1, round(spent * 4))) / 4
