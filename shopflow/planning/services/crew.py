"""Who is away, who lends a hand where, and who works more for a time."""

from __future__ import annotations

from datetime import date, timedelta
from decimal import Decimal
from typing import Any

from django.db import transaction

from shopflow.catalogue.models import Department
from shopflow.common import clock
from shopflow.common.refusals import Refused
from shopflow.people import access
from shopflow.people.access import Deed
from shopflow.people.models import Person
from shopflow.planning.models import ExtraHours, Leave, Loan

LONGEST = 366
BACK, AHEAD = timedelta(days=366), timedelta(days=730)
LEAST_MORE, MOST_MORE = Decimal("0.5"), Decimal(4)

Spell = Leave | Loan | ExtraHours


@transaction.atomic
def add_leave(*, person: Person, first: date, last: date | None, note: str = "", by: Person) -> Leave:
    """This person is away on these days, both included."""
    last = _days(person, first, last, by=by)
    _refuse_overlap(Leave, person, first, last)
    return Leave.objects.create(person=person, first_day=first, last_day=last, note=note)


@transaction.atomic
def lend(
    *,
    person: Person,
    department: Department,
    first: date,
    last: date | None,
    note: str = "",
    by: Person,
) -> Loan:
    """This person works in another department for these days."""
    last = check_loan(person=person, department=department, first=first, last=last, by=by)
    return Loan.objects.create(
        person=person, department=department, first_day=first, last_day=last, note=note
    )


def check_loan(*, person: Person, department: Department, first: date, last: date | None, by: Person) -> date:
    """Refuse a loan that cannot be; the last day of one that can."""
    last = _days(person, first, last, by=by)
    _refuse_strange_bench(person, department)
    _refuse_overlap(Loan, person, first, last)
    return last


@transaction.atomic
def work_more(
    *, person: Person, hours_a_day: Decimal, first: date, last: date | None, note: str = "", by: Person
) -> ExtraHours:
    """This person works so many hours more on each of their working days."""
    last = check_more(person=person, hours_a_day=hours_a_day, first=first, last=last, by=by)
    return ExtraHours.objects.create(
        person=person, hours_a_day=hours_a_day, first_day=first, last_day=last, note=note
    )


def check_more(*, person: Person, hours_a_day: Decimal, first: date, last: date | None, by: Person) -> date:
    """Refuse extra hours that cannot be; the last day of those that can."""
    last = _days(person, first, last, by=by)
    if not LEAST_MORE <= hours_a_day <= MOST_MORE:
        raise Refused(
            f"Got {hours_a_day} hours; allowed is {LEAST_MORE} to {MOST_MORE} a day.", field="hours_a_day"
        )
    _refuse_overlap(ExtraHours, person, first, last)
    return last


@transaction.atomic
def end(*, spell: Spell, by: Person) -> str:
    """What has not begun is taken back; what has begun ended yesterday. Says which."""
    access.require(by, Deed.PLAN)
    today = clock.today()
    if spell.first_day >= today:
        words = f"Taken back: {words_of(spell)}."
        spell.delete()
        return words
    spell.last_day = min(spell.last_day, today - timedelta(days=1))
    spell.save(update_fields=["last_day"])
    return f"Ended: {words_of(spell)}."


def words_of(spell: Spell) -> str:
    """One spell as one would say it."""
    days = said_days(spell.first_day, spell.last_day)
    what = {
        Leave: lambda one: "is away",
        Loan: lambda one: f"lends a hand in {one.department}",
        ExtraHours: lambda one: f"works {one.hours_a_day.normalize():f} h a day more",
    }[type(spell)](spell)
    return f"{spell.person} {what} {days}" + (f" ({spell.note})" if spell.note else "")


def said_days(first: date, last: date) -> str:
    """
    >>> said_days(date(2026, 12, 1), date(2026, 12, 1)), said_days(date(2026, 12, 1), date(2026, 12, 4))
    ('on 1 Dec 2026', '1 Dec to 4 Dec 2026')
    """
    if first == last:
        return f"on {first.day} {first:%b %Y}"
    year = f" {first.year}" if first.year != last.year else ""
    return f"{first.day} {first:%b}{year} to {last.day} {last:%b %Y}"


def clashes(person: Person, first: date, last: date) -> list[str]:
    """What else is known of this person in that time, in words."""
    rows: list[Any] = []
    for kind in (Leave, Loan, ExtraHours):
        rows += overlapping(kind, person, first, last)
    return [words_of(row) for row in rows]


def overlapping(kind: Any, person: Person, first: date, last: date) -> list[Any]:
    return list(kind.objects.filter(person=person, first_day__lte=last, last_day__gte=first))


def _days(person: Person, first: date, last: date | None, *, by: Person) -> date:
    """The last day, once it is sure that these days can be and that this person works here."""
    access.require(by, Deed.PLAN)
    if not person.works_here:
        raise Refused(f"{person} does not work here.", field="person")
    last = last or first
    least, most = clock.today() - BACK, clock.today() + AHEAD
    for field, day in (("first", first), ("last", last)):
        if not least <= day <= most:
            raise Refused(f"Got {day}; allowed is {least} to {most}.", field=field)
    if not first <= last <= first + timedelta(days=LONGEST):
        raise Refused(
            f"Got {first} to {last}; the last day comes after the first, at most {LONGEST} days later.",
            field="last",
        )
    return last


def _refuse_strange_bench(person: Person, department: Department) -> None:
    if department.pk == person.home_id:
        raise Refused(f"{person} works in {department} anyway.", field="department")
    others = list(person.benches.all())
    if department not in others:
        names = ", ".join(one.name for one in others if one.pk != person.home_id)
        raise Refused(
            f"{person} cannot work in {department}. "
            + (f"Besides {person.home}: {names}." if names else f"{person} knows no other bench.")
            + " Other benches are given on the person's page.",
            field="department",
        )


def _refuse_overlap(kind: Any, person: Person, first: date, last: date) -> None:
    there = overlapping(kind, person, first, last)
    if there:
        known = "; ".join(words_of(row) for row in there)
        raise Refused(f"In that time {known} already.", field="first")
