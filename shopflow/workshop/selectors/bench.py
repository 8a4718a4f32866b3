"""One bench's work: what is on it, what may be taken next and why, what rests, is stopped or waits."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Callable, Iterable
from dataclasses import dataclass
from decimal import Decimal

from django.db.models import Exists, OuterRef, Q, QuerySet

from shopflow.catalogue import selectors as catalogue
from shopflow.catalogue.models import Department
from shopflow.common import clock
from shopflow.common.gauges import GaugeSheet
from shopflow.people import access
from shopflow.people.access import Deed
from shopflow.people.models import Person
from shopflow.workshop.models import Move, Task
from shopflow.workshop.services.moves import UNDO_WITHIN, question_before_undo

from .bench_rows import BenchRow, bench_rows
from .standing import Load, Standing, State, hands_on_hours_a_week, load_of, standings
from .turn import order_of_work

# With more rows than this a section is folded, so that the sections below stay within reach.
SHOWN_AT_ONCE = 12


@dataclass(frozen=True, slots=True)
class Section:
    """Tasks of one bench that are in the same state."""

    slug: str
    title: str
    short: str
    rows: list[BenchRow]
    folded: bool = False

    @property
    def shown(self) -> list[BenchRow]:
        return [] if self.folded else self.rows[:SHOWN_AT_ONCE]

    @property
    def rest(self) -> list[BenchRow]:
        return self.rows[len(self.shown) :]


SECTIONS: list[tuple[str, str, str, Callable[[BenchRow], bool]]] = [
    ("on-the-bench", "On the bench", "on the bench", lambda row: row.state in {State.BENCHED, State.PROVING}),
    ("rest-is-over", "Rest is over", "rested", lambda row: row.rest_is_over),
    ("ready", "Ready to take", "ready", lambda row: row.state is State.READY),
    ("resting", "Resting", "resting", lambda row: row.state is State.RESTING and not row.rest_is_over),
    ("stopped", "Stopped", "stopped", lambda row: row.state is State.STOPPED),
    ("waiting", "Waiting for other work", "waiting", lambda row: row.state is State.WAITING),
]


@dataclass(frozen=True, slots=True)
class BenchWork:
    """Everything a bench's tablet shows."""

    department: Department
    sections: list[Section]
    last_move: Move | None
    may_act: bool
    sheet: GaugeSheet
    # What to ask before the last move is undone; empty where it goes without asking.
    undo_question: str = ""

    @property
    def is_empty(self) -> bool:
        return not self.sections


def bench_work(department: Department, *, viewer: Person) -> BenchWork:
    """The bench's open tasks by section, each section in the order of work."""
    rows = sorted(
        bench_rows(here_and_open().filter(department=department), viewer=viewer),
        key=lambda row: order_of_work(row.task),
    )
    sections = [
        Section(slug, title, short, [row for row in rows if fits(row)], folded=slug == "waiting")
        for slug, title, short, fits in SECTIONS
    ]
    last_move = last_move_of(viewer, at=department)
    return BenchWork(
        department=department,
        sections=[section for section in sections if section.rows],
        last_move=last_move,
        undo_question=question_before_undo(last_move, by=viewer),
        may_act=access.may(viewer, Deed.WORK_AT_BENCH, bench=department),
        sheet=GaugeSheet(),
    )


def here_and_open() -> QuerySet[Task]:
    """Open work on what is in the house, or at its owner's where the work is done there."""
    return Task.objects.open().filter(Q(instrument__left_on=None) | Q(at_the_owners=True))


def last_move_of(person: Person, *, at: Department) -> Move | None:
    """This person's very last move at this bench, if it can still be undone.

    An older one never takes its place: a second tap on Undo would undo what nobody meant.
    """
    later = Move.objects.filter(task=OuterRef("task"), pk__gt=OuterRef("pk"))
    last = (
        Move.objects.filter(by=person, task__department=at, recorded_at__gt=clock.now() - UNDO_WITHIN)
        .annotate(moved_on=Exists(later))
        .select_related("task__instrument", "target", "origin")
        .order_by("-pk")
        .first()
    )
    if last is None or last.moved_on or last.undoes_id is not None:
        return None
    return last


@dataclass(frozen=True, slots=True)
class BenchChoice:
    """A bench to choose, with its load in words."""

    department: Department
    load: Load
    counts: dict[State, int]
    is_own: bool

    @property
    def words(self) -> str:
        told = [(State.BENCHED, "on the bench"), (State.PROVING, "to check"), (State.READY, "ready")]
        told += [(State.RESTING, "resting"), (State.STOPPED, "stopped"), (State.WAITING, "waiting")]
        parts = [f"{self.counts[state]} {word}" for state, word in told if self.counts.get(state)]
        return ", ".join(parts) or "nothing to do"


def bench_choices(*, viewer: Person) -> list[BenchChoice]:
    """Every bench with its load, the viewer's own ones first."""
    by_department = _by_department(standings(here_and_open(), catalogue.stages_by_id()))
    hours = hands_on_hours_a_week()
    own = own_benches(viewer)
    choices = [
        BenchChoice(
            department=department,
            load=load_of(by_department[department.pk], hours_a_week=hours.get(department.pk, Decimal(0))),
            counts=_counts(by_department[department.pk]),
            is_own=department.pk in own,
        )
        for department in catalogue.departments()
    ]
    return sorted(choices, key=lambda choice: not choice.is_own)


def own_benches(person: Person) -> set[int]:
    return {person.home_id, *person.benches.values_list("pk", flat=True)} - {None}


def _by_department(rows: Iterable[Standing]) -> dict[int, list[Standing]]:
    found: dict[int, list[Standing]] = defaultdict(list)
    for row in rows:
        found[row.department_id].append(row)
    return found


def _counts(rows: Iterable[Standing]) -> dict[State, int]:
    counts: dict[State, int] = defaultdict(int)
    for row in rows:
        counts[row.state] += 1
    return counts
