"""Hours wanted by a plan against hours to be had, department by week, and the work ready in front of each."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Collection, Iterator
from dataclasses import dataclass, field, replace
from datetime import date, datetime, timedelta
from decimal import Decimal
from itertools import pairwise
from zoneinfo import ZoneInfo

from django.db.models import QuerySet
from django.utils import timezone

from shopflow.catalogue import selectors as catalogue
from shopflow.catalogue.models import Department, Stage
from shopflow.compute.calendar import IsoWeek
from shopflow.people.selectors import weekly_hours_by_department
from shopflow.planning.measures import Measure, from_data
from shopflow.planning.models import Plan, PlanLine
from shopflow.workshop.models import Move, Task
from shopflow.workshop.selectors import standing
from shopflow.workshop.selectors.standing import Standing, standings

from .hands import OPENS, CrewBook, crew_book

WEEKS = 12
# A line may reach past the weeks shown; its hours are laid over this much more.
BEYOND = timedelta(weeks=6)
FULL, THIN = 0.95, 0.5
# Percent by which two plans may differ before the difference is pointed out.
NOTABLE = 10
# Swamped is also a bench whose work has risen three weeks running (common practice, no source), each time by
# what is more than chance (our judgement).
RISING, NOTABLE_DAYS = 3, 0.5
DEPTHS = (0.05, 0.4, 0.7, 0.9, 1.05)

Place = tuple[int, IsoWeek]


@dataclass(frozen=True, slots=True)
class Cell:
    """One department in one week."""

    week: IsoWeek
    wanted: float
    to_be_had: float
    tasks: int
    # Of another plan, when this table is held against its.
    was: int | None = None
    # Without a plan nobody knows what is wanted.
    is_planned: bool = True

    @property
    def moved(self) -> bool:
        """Whether the cell differs from the other plan's by what one would look at."""
        return self.was is not None and self.percent is not None and abs(self.percent - self.was) >= NOTABLE

    @property
    def share(self) -> float | None:
        """Of the hours to be had, what is wanted; None where there are none."""
        return self.wanted / self.to_be_had if self.is_planned and self.to_be_had > 0.05 else None

    @property
    def percent(self) -> int | None:
        return None if self.share is None else round(100 * self.share)

    @property
    def depth(self) -> int:
        """0 to 5, for the ground of the cell; the figure says the same."""
        if self.share is None:
            return 5 if self.wanted > 0.05 else 0
        return sum(self.share > step for step in DEPTHS)

    @property
    def word(self) -> str:
        if not self.is_planned and self.to_be_had > 0.05:
            return ""
        if self.share is None:
            return "no hands" if self.wanted > 0.05 else "closed"
        if self.share >= FULL:
            return "full"
        if self.percent == 0:
            return "idle"
        return "thin" if self.share < THIN else ""


@dataclass(frozen=True, slots=True)
class Row:
    department: Department
    load: standing.Load
    cells: list[Cell]
    later: float
    # Days of work in front of the bench one, two and three weeks before the plan, the earliest first.
    before: tuple[float, ...] = ()

    @property
    def is_rising(self) -> bool:
        """More in front of the bench than a week ago, and so each of the last three weeks."""
        if len(self.before) < RISING or not self.load.days:
            return False
        days = [*self.before[-RISING:], self.load.days]
        return all(later >= earlier + NOTABLE_DAYS for earlier, later in pairwise(days))

    @property
    def word(self) -> str:
        """As the boards say it, and swamped also where the work has risen for three weeks."""
        return self.load.word or ("swamped" if self.is_rising else "")

    @property
    def bar(self) -> object:
        return self.load.bar(self.department)


@dataclass(frozen=True, slots=True)
class LoadTable:
    weeks: list[IsoWeek]
    rows: list[Row]

    def against(self, other: LoadTable) -> LoadTable:
        """The same table, its cells knowing what the other plan's say."""
        was = {(row.department.pk, cell.week): cell.percent for row in other.rows for cell in row.cells}
        rows = [
            replace(
                row, cells=[replace(cell, was=was.get((row.department.pk, cell.week))) for cell in row.cells]
            )
            for row in self.rows
        ]
        return replace(self, rows=rows)

    def named(self, word: str) -> list[Row]:
        return [row for row in self.rows if row.word == word]

    @property
    def starving(self) -> list[Row]:
        return sorted(self.named("starving"), key=lambda row: row.load.days or 0)

    @property
    def swamped(self) -> list[Row]:
        return self.named("swamped")

    @property
    def without_hands(self) -> list[Row]:
        return self.named("no hands")


@dataclass(frozen=True, slots=True)
class Behind:
    """A task behind a cell: its hours in that week, and when its hands-on work is planned."""

    line: PlanLine
    hours: float
    goes_on: bool
    came_on: bool


def load_table(plan: Plan | None, *, now: datetime, without: Collection[int] = ()) -> LoadTable:
    """Everything the Load shows, in a fixed number of queries; `without` leaves out instruments by id."""
    shop = catalogue.the_shop()
    share = float(shop.hands_on_share)
    weeks = _weeks(now.astimezone(shop.zone).date())
    first = _first_day(plan, now, shop.zone)
    book = crew_book(first=first, measures=_tried(plan))
    open_days = _OpenDays.of(book, first, weeks[-1].sunday() + BEYOND, zone=shop.zone)
    wanted, counts = _wanted(plan, open_days, now, without)
    to_be_had = _to_be_had(book, weeks, now=now, zone=shop.zone)
    fronts = _fronts(share)
    rows = []
    for one in catalogue.departments():
        cells = [
            Cell(
                week,
                wanted[one.pk, week],
                to_be_had[one.pk, week] * share,
                counts[one.pk, week],
                is_planned=plan is not None,
            )
            for week in weeks
        ]
        later = sum(hours for (pk, week), hours in wanted.items() if pk == one.pk and week > weeks[-1])
        front = fronts(one)
        rows.append(Row(one, front, cells, later, _days_before(plan, one, front)))
    return LoadTable(weeks, rows)


def _days_before(plan: Plan | None, department: Department, load: standing.Load) -> tuple[float, ...]:
    """Days in front of a bench in the weeks before a plan, which knows the hours, at today's pace."""
    hours = (plan.figures.get("fronts") or {}).get(str(department.pk), []) if plan else []
    if not load.hours_a_week:
        return ()
    return tuple(5 * one / float(load.hours_a_week) for one in hours)


def behind(plan: Plan, department: Department, week: IsoWeek, *, now: datetime) -> list[Behind]:
    """The tasks behind one cell of the table, in the order in which they are planned."""
    shop = catalogue.the_shop()
    first = _first_day(plan, now, shop.zone)
    book = crew_book(first=first, measures=_tried(plan))
    open_days = _OpenDays.of(book, first, week.sunday() + BEYOND, zone=shop.zone)
    lines = open_lines(plan).filter(department=department).select_related("task__stage", "instrument")
    found = []
    for line in lines:
        spread = open_days.spread(department.pk, line.starts_at, line.ends_at, float(line.hours), now)
        if spread.get(week, 0.0) > 0:
            found.append(Behind(line, spread[week], max(spread) > week, min(spread) < week))
    return found


def moves_since(plan: Plan) -> int:
    """How many ledger lines were written since the plan was made."""
    return Move.objects.filter(pk__gt=plan.last_move).count()


def weeks_of(plan: Plan, today: date) -> list[IsoWeek]:
    """Those that the table shows, and those before it in which the plan was made."""
    weeks = _weeks(today)
    began = IsoWeek.of(min(today, timezone.localdate(plan.begins_at)))
    while weeks[0] > began:
        weeks.insert(0, IsoWeek.of(weeks[0].monday() - timedelta(days=7)))
    return weeks


def _weeks(today: date) -> list[IsoWeek]:
    weeks = [IsoWeek.of(today)]
    while len(weeks) < WEEKS:
        weeks.append(weeks[-1].next())
    return weeks


def _tried(plan: Plan | None) -> list[Measure]:
    """What is only on paper; the measures of a published plan are in the crew's own book by now."""
    return from_data(plan.measures) if plan and plan.state == Plan.State.DRAFT else []


def _first_day(plan: Plan | None, now: datetime, zone: ZoneInfo) -> date:
    return min(now, plan.begins_at if plan else now).astimezone(zone).date()


def open_lines(plan: Plan) -> QuerySet[PlanLine]:
    """Without the work that was signed or dropped since."""
    lines = PlanLine.objects.filter(plan=plan, task__dropped_at=None)
    return lines.exclude(task__stage__kind=Stage.Kind.SIGNED)


def _wanted(
    plan: Plan | None, open_days: _OpenDays, now: datetime, without: Collection[int]
) -> tuple[dict[Place, float], dict[Place, int]]:
    hours: dict[Place, float] = defaultdict(float)
    tasks: dict[Place, set[int]] = defaultdict(set)
    if plan is not None:
        lines = open_lines(plan).exclude(instrument__in=without)
        rows = lines.values_list("department_id", "task_id", "starts_at", "ends_at", "hours")
        for department, task, starts, ends, whole in rows:
            for week, part in open_days.spread(department, starts, ends, float(whole), now).items():
                hours[department, week] += part
                tasks[department, week].add(task)
    counts: dict[Place, int] = defaultdict(int)
    return hours, counts | {place: len(those) for place, those in tasks.items()}


def _to_be_had(book: CrewBook, weeks: list[IsoWeek], *, now: datetime, zone: ZoneInfo) -> dict[Place, float]:
    """Paid hours by department and week, of this week only what is left of it."""
    table: dict[Place, float] = defaultdict(float)
    for one in book.presences(now.astimezone(zone).date(), weeks[-1].sunday()):
        opens = datetime.combine(one.day, OPENS, tzinfo=zone)
        gone = max(0.0, (now - opens).total_seconds() / 3600)
        table[one.department_id, IsoWeek.of(one.day)] += max(0.0, one.hours - gone)
    return table


class _Fronts:
    """What stands in front of each bench now."""

    def __init__(self, work: list[Standing], paid: dict[int, Decimal], share: Decimal) -> None:
        self.work, self.paid, self.share = work, paid, share

    def __call__(self, department: Department) -> standing.Load:
        here = [row for row in self.work if row.department_id == department.pk]
        hours = self.paid.get(department.pk, Decimal(0)) * self.share
        return standing.load_of(here, hours_a_week=hours)


def _fronts(share: float) -> _Fronts:
    work = standings(Task.objects.filter(instrument__left_on=None), catalogue.stages_by_id())
    return _Fronts(work, weekly_hours_by_department(), Decimal(str(share)))


@dataclass(slots=True)
class _OpenDays:
    """When each department is staffed: (opens, closes) day by day, to lay a line's hours over its weeks."""

    spells: dict[int, list[tuple[datetime, datetime, IsoWeek]]] = field(default_factory=dict)

    @classmethod
    def of(cls, book: CrewBook, first: date, last: date, *, zone: ZoneInfo) -> _OpenDays:
        longest: dict[tuple[int, date], float] = {}
        for one in book.presences(first, last):
            key = one.department_id, one.day
            longest[key] = max(longest.get(key, 0.0), one.hours)
        made = cls()
        for (department, day), hours in longest.items():
            opens = datetime.combine(day, OPENS, tzinfo=zone)
            spell = (opens, opens + timedelta(hours=hours), IsoWeek.of(day))
            made.spells.setdefault(department, []).append(spell)
        return made

    def spread(
        self, department: int, starts: datetime, ends: datetime, hours: float, now: datetime
    ) -> dict[IsoWeek, float]:
        """A line's hours by week, each week its share of the staffed hours; what is past is left out."""
        parts = list(self._parts(department, starts, ends))
        whole = sum(length for length, _, _ in parts)
        if not whole:
            return {IsoWeek.of(starts.date()): hours} if ends > now else {}
        by_week: dict[IsoWeek, float] = defaultdict(float)
        for length, closes, week in parts:
            ahead = min(length, max(0.0, (closes - now).total_seconds() / 3600))
            if ahead:
                by_week[week] += hours * ahead / whole
        return by_week

    def _parts(
        self, department: int, starts: datetime, ends: datetime
    ) -> Iterator[tuple[float, datetime, IsoWeek]]:
        for opens, closes, week in self.spells.get(department, ()):
            if opens >= ends:
                break
            length = (min(closes, ends) - max(opens, starts)).total_seconds() / 3600
            if length > 0:
                yield length, min(closes, ends), week
