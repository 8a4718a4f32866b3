"""What the piano says of its job: where its lines stand now, and what its open work lacks or contradicts."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field

from shopflow.catalogue.knowledge import knowledge
from shopflow.catalogue.models import Operation
from shopflow.compute.errors import ComputeError
from shopflow.compute.worknet import Knowledge
from shopflow.instruments.models import Instrument
from shopflow.workshop.models import Task
from shopflow.workshop.services.layout import WantedTie, pairs_of, untied

from .stay import Stay, stay_of


@dataclass(frozen=True, slots=True)
class LineNow:
    """One line of the piano's state as its signed work left it."""

    name: str
    now: str
    found: str
    goal: str

    @property
    def has_moved(self) -> bool:
        return self.now != self.found


@dataclass(frozen=True, slots=True)
class MissingWork:
    """Work without which the job cannot be done or closed up, and why."""

    operation: Operation
    why: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class InVain:
    """An open task that other work of the job makes needless."""

    task: Task
    why: str


@dataclass(frozen=True, slots=True)
class PianoSays:
    """Everything the page tells; a job laid out by what the piano says has nothing to take over."""

    lines: list[LineNow] = field(default_factory=list)
    missing: list[MissingWork] = field(default_factory=list)
    untied: list[WantedTie] = field(default_factory=list)
    against: list[WantedTie] = field(default_factory=list)
    clashes: list[str] = field(default_factory=list)
    questions: list[str] = field(default_factory=list)
    in_vain: list[InVain] = field(default_factory=list)

    @property
    def count(self) -> int:
        """How many things somebody has to settle."""
        return len([*self.missing, *self.untied, *self.against, *self.clashes, *self.in_vain])

    @property
    def moved(self) -> list[LineNow]:
        return [line for line in self.lines if line.has_moved]

    @property
    def as_found(self) -> list[LineNow]:
        return [line for line in self.lines if not line.has_moved]


def piano_says(instrument: Instrument) -> PianoSays:
    """The state of an instrument in words, and what its open work lacks; in a dozen queries."""
    known = knowledge(instrument.kind)
    stay = stay_of(instrument).among(known.codes)
    lines = _lines(stay, known)
    if stay.is_empty or instrument.left_on is not None:
        return PianoSays(lines)
    lack = untied(stay, known, pairs_of(instrument.pk))
    todo = set(stay.todo)
    return PianoSays(
        lines=lines,
        missing=missing_work(stay, known),
        untied=lack.missing,
        against=lack.against,
        clashes=[sentence for *_, sentence in known.clashes(todo)],
        questions=[sentence for *_, sentence in known.questions(todo)],
        in_vain=_in_vain(stay, known),
    )


def missing_work(stay: Stay, known: Knowledge) -> list[MissingWork]:
    """What the open work needs in the state that the signed work has left, and what closes it up."""
    stay = stay.among(known.codes)
    start = known.replay(stay.done)
    try:
        whole = known.complete(stay.todo, start)
    except ComputeError:
        # Contradictions stand in its way. They are told by themselves and have to be settled first.
        return []
    codes = set(whole.operations) - set(stay.todo)
    rows = Operation.objects.filter(code__in=codes).select_related("department")
    return [MissingWork(row, tuple(whole.reasons.get(row.code, ()))) for row in rows]


def _lines(stay: Stay, known: Knowledge) -> list[LineNow]:
    now = known.replay(stay.done)
    return [
        LineNow(
            name=line.name,
            now=line.say[line.levels.index(now[code])],
            found=line.say[line.found],
            goal=line.say[line.goal],
        )
        for code, line in known.lines.items()
        if not line.clears_itself
    ]


def _in_vain(stay: Stay, known: Knowledge) -> list[InVain]:
    try:
        lost = dict(known.in_vain(stay.todo, known.replay(stay.done)))
    except ComputeError:
        return []
    return [
        InVain(task, lost[task.operation.code])
        for task in _with_operation(stay)
        if task.operation and task.operation.code in lost
    ]


def _with_operation(stay: Stay) -> Sequence[Task]:
    return [task for task in stay.open_tasks if task.operation is not None]
