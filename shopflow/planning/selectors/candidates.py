"""What could be tried: hands that could be lent, hours added, instruments held back or let go on."""

from __future__ import annotations

from collections.abc import Iterator
from datetime import date, timedelta

from shopflow.catalogue.models import Stage
from shopflow.people.models import Person
from shopflow.planning.measures import HoldBack, LendAHand, LetGoOn, Measure, WorkMore
from shopflow.planning.problem import House
from shopflow.workshop.models import Task

WEEKS_AHEAD = 6
LOAN_WEEKS = (1, 2)
MORE_HOURS, MORE_WEEKS = (1, 2), (2, 4)
HOLD_WEEKS = (2, 4)
MOST_HELD = 10


def candidates(house: House) -> list[Measure]:
    """Every measure worth trying on this house, the nearest first. Three queries."""
    today = house.now.astimezone(house.zone).date()
    monday = today + timedelta(days=7 - today.weekday())
    found: list[Measure] = [LetGoOn(pk) for pk in sorted(house.held)]
    people = list(Person.objects.working().exclude(home=None).prefetch_related("benches").order_by("pk"))
    found += _loans(house, people, monday)
    found += _more_hours(house, people, monday)
    found += _holds(house, monday)
    return found


def _loans(house: House, people: list[Person], monday: date) -> Iterator[Measure]:
    wanted = {task.department_id for task in house.tasks}
    for week in range(WEEKS_AHEAD):
        first = monday + timedelta(weeks=week)
        for person in people:
            for bench in person.benches.all():
                if bench.pk == person.home_id or bench.pk not in wanted:
                    continue
                for weeks in LOAN_WEEKS:
                    last = _sunday(first, weeks)
                    if _is_there(house, person, first, last) and not _is_lent(house, person, first, last):
                        yield LendAHand(person.pk, bench.pk, first, last)


def _more_hours(house: House, people: list[Person], monday: date) -> Iterator[Measure]:
    for person in people:
        for weeks in MORE_WEEKS:
            last = _sunday(monday, weeks)
            has_more = any(
                row.person_id == person.pk and row.first_day <= last and row.last_day >= monday
                for row in house.book.extras
            )
            if _is_there(house, person, monday, last) and not has_more:
                for hours in MORE_HOURS:
                    yield WorkMore(person.pk, float(hours), monday, last)


def _holds(house: House, monday: date) -> Iterator[Measure]:
    """The least urgent of those that have not been begun."""
    begun = set(
        Task.objects.in_the_job()
        .filter(instrument__in={task.instrument_id for task in house.tasks})
        .exclude(stage__kind=Stage.Kind.RACKED)
        .values_list("instrument_id", flat=True)
    )
    waiting = {
        task.instrument_id: task.instrument
        for task in house.tasks
        if task.instrument_id not in begun and task.instrument_id not in house.held
    }
    by_urgency = sorted(waiting.values(), key=lambda one: (one.promised_on or date.max, one.number))
    for instrument in by_urgency[-MOST_HELD:]:
        for weeks in HOLD_WEEKS:
            yield HoldBack(instrument.pk, monday + timedelta(weeks=weeks))


def _sunday(first: date, weeks: int) -> date:
    return first + timedelta(days=7 * weeks - 1)


def _is_there(house: House, person: Person, first: date, last: date) -> bool:
    """Whether this person works at all in these days."""
    return any(one.person_id == person.pk for one in house.book.presences(first, last))


def _is_lent(house: House, person: Person, first: date, last: date) -> bool:
    return any(
        row.person_id == person.pk and row.first_day <= last and row.last_day >= first
        for row in house.book.loans
    )
