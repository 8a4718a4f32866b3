"""Who is there when: the hands of each department by the hour, from weeks, leave, loans and extra hours."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterator, Sequence
from dataclasses import dataclass, field
from datetime import date, datetime, time, timedelta
from zoneinfo import ZoneInfo

from shopflow.people.models import Person, Role, WorkingDay
from shopflow.planning.measures import LendAHand, Measure, WorkMore
from shopflow.planning.models import ClosedDay, ExtraHours, Leave, Loan

OPENS = time(8)
WEEKS_AHEAD = 60


@dataclass(frozen=True, slots=True)
class Presence:
    """One person in one department on one day, from opening for so many paid hours."""

    person_id: int
    department_id: int
    day: date
    hours: float


@dataclass(slots=True)
class CrewBook:
    """Everything that says who is where, read in a fixed number of queries."""

    people: list[Person]
    week: dict[tuple[int, int], float]
    closed: set[date]
    leaves: list[Leave] = field(default_factory=list)
    loans: list[Loan] = field(default_factory=list)
    extras: list[ExtraHours] = field(default_factory=list)
    measures: Sequence[Measure] = ()
    # Days without a measure, worked out once for all copies of the book with other measures.
    _usual: dict[date, list[Presence]] = field(default_factory=dict)

    def presences(self, first: date, last: date) -> Iterator[Presence]:
        """Everybody's days from the first to the last day, both included."""
        tried = [one for one in self.measures if isinstance(one, LendAHand | WorkMore)]
        day = first
        while day <= last:
            if any(one.covers(day) for one in tried):
                yield from self._on(day)
            else:
                yield from self._usually_on(day)
            day += timedelta(days=1)

    def _usually_on(self, day: date) -> list[Presence]:
        if day not in self._usual:
            self._usual[day] = list(self._on(day))
        return self._usual[day]

    def _on(self, day: date) -> Iterator[Presence]:
        if day in self.closed:
            return
        away = {leave.person_id for leave in self.leaves if leave.first_day <= day <= leave.last_day}
        for person in self.people:
            hours = self.week.get((person.pk, day.weekday()), 0.0)
            where = self._where(person, day)
            if hours and where and person.pk not in away:
                yield Presence(person.pk, where, day, hours + self._more(person.pk, day))

    def _where(self, person: Person, day: date) -> int | None:
        """Home, unless lent; what is only tried on paper goes before what is agreed."""
        for tried in self.measures:
            if isinstance(tried, LendAHand) and tried.person == person.pk and tried.covers(day):
                return tried.department
        for loan in self.loans:
            if loan.person_id == person.pk and loan.first_day <= day <= loan.last_day:
                return loan.department_id
        return person.home_id

    def _more(self, person_id: int, day: date) -> float:
        agreed = sum(
            float(extra.hours_a_day)
            for extra in self.extras
            if extra.person_id == person_id and extra.first_day <= day <= extra.last_day
        )
        tried = sum(
            one.hours_a_day
            for one in self.measures
            if isinstance(one, WorkMore) and one.person == person_id and one.covers(day)
        )
        return min(16.0, agreed + tried)


def crew_book(*, first: date, measures: Sequence[Measure] = ()) -> CrewBook:
    """The book from a day on, with measures that are only tried on paper written in."""
    people = list(Person.objects.filter(is_active=True).select_related("home").exclude(role=Role.STRANGER))
    week = {
        (row.person_id, row.weekday): float(row.hours)
        for row in WorkingDay.objects.filter(person__in=[person.pk for person in people])
    }
    return CrewBook(
        people=people,
        week=week,
        closed=set(ClosedDay.objects.filter(day__gte=first).values_list("day", flat=True)),
        leaves=list(Leave.objects.filter(last_day__gte=first)),
        loans=list(Loan.objects.filter(last_day__gte=first)),
        extras=list(ExtraHours.objects.filter(last_day__gte=first)),
        measures=measures,
    )


def hours_by_week(book: CrewBook, *, first: date, weeks: int, share: float) -> dict[int, list[float]]:
    """Hands-on hours to be had per department (its id) in each of so many weeks from the week of a day."""
    monday = first - timedelta(days=first.weekday())
    table: dict[int, list[float]] = defaultdict(lambda: [0.0] * weeks)
    for one in book.presences(first, monday + timedelta(days=7 * weeks - 1)):
        table[one.department_id][(one.day - monday).days // 7] += one.hours * share
    return table


def spells(
    book: CrewBook, *, now: datetime, zone: ZoneInfo, weeks: int = WEEKS_AHEAD
) -> list[tuple[float, float]]:
    """When anybody works at all: (opens, closes) in clock hours from now."""
    longest: dict[date, float] = {}
    for one in _ahead(book, now, zone, weeks):
        longest[one.day] = max(longest.get(one.day, 0.0), one.hours)
    open_ = [_clock(now, zone, day, 0.0) for day in longest]
    close = [_clock(now, zone, day, hours) for day, hours in longest.items()]
    return [(max(0.0, a), b) for a, b in zip(open_, close, strict=True) if b > 0.0]


def hands_by_hour(
    book: CrewBook, *, now: datetime, zone: ZoneInfo, weeks: int = WEEKS_AHEAD
) -> dict[int, list[tuple[float, int]]]:
    """Hands there per department (its id), as steps (from clock hour, hands) that begin at 0.

    The last step, which lasts for ever, is the usual crew of the department's best day: past the horizon
    nothing is known but that the shop goes on.
    """
    open_hours = spells(book, now=now, zone=zone, weeks=weeks)
    changes: dict[int, dict[float, int]] = defaultdict(lambda: defaultdict(int))
    per_day: dict[tuple[int, date], int] = defaultdict(int)
    end = 0.0
    for one in _ahead(book, now, zone, weeks):
        comes = max(0.0, _clock(now, zone, one.day, 0.0))
        goes = _clock(now, zone, one.day, one.hours)
        if goes <= comes:
            continue
        changes[one.department_id][comes] += 1
        changes[one.department_id][goes] -= 1
        per_day[one.department_id, one.day] += 1
        end = max(end, goes)
    return {
        department: _while_open(
            _steps(moves, last=(end, max(n for (d, _), n in per_day.items() if d == department))), open_hours
        )
        for department, moves in changes.items()
    }


def _ahead(book: CrewBook, now: datetime, zone: ZoneInfo, weeks: int) -> Iterator[Presence]:
    today = now.astimezone(zone).date()
    return book.presences(today, today + timedelta(days=7 * weeks))


def _clock(now: datetime, zone: ZoneInfo, day: date, hours: float) -> float:
    """Clock hours from now to so many hours after opening on a day; real hours, whatever the clocks do."""
    opens = datetime.combine(day, OPENS, tzinfo=zone)
    return (opens - now).total_seconds() / 3600 + hours


def _steps(moves: dict[float, int], *, last: tuple[float, int]) -> list[tuple[float, int]]:
    steps, there = [], 0
    for moment in sorted(moves):
        there += moves[moment]
        steps.append((moment, there))
    if not steps or steps[0][0] > 0:
        steps.insert(0, (0.0, 0))
    steps = [step for step in steps if step[0] < last[0]]
    return [*steps, last]


def _while_open(
    steps: list[tuple[float, int]], open_hours: list[tuple[float, float]]
) -> list[tuple[float, int]]:
    """The same hands while the shop is open, without the steps at which nobody would notice a change.

    The nights are the shop's business, not the department's: without them a plan is many times quicker.
    """
    ends = [*(moment for moment, _ in steps[1:]), float("inf")]
    kept: list[tuple[float, int]] = []
    spell = 0
    for (begins, hands), until in zip(steps, ends, strict=True):
        while spell < len(open_hours) and open_hours[spell][1] <= begins:
            spell += 1
        seen = until == float("inf") or (spell < len(open_hours) and open_hours[spell][0] < until)
        if seen and (not kept or kept[-1][1] != hands):
            kept.append((begins if kept else 0.0, hands))
    return kept
