"""Who works where and when: the page of the crew."""

from __future__ import annotations

from dataclasses import dataclass, field
from datetime import date
from decimal import Decimal

from shopflow.people.models import Person
from shopflow.planning.models import ClosedDay, ExtraHours, Leave, Loan
from shopflow.planning.services.crew import words_of

CLOSED_SHOWN = 6


@dataclass(frozen=True, slots=True)
class Spell:
    """A leave, a loan or extra hours, as the page lists it."""

    pk: int
    kind: str
    words: str
    under_way: bool


@dataclass(frozen=True, slots=True)
class Hand:
    """One person's usual week and the benches where they can work."""

    person: Person
    hours: list[Decimal | None]
    others: list[str]
    spells: list[Spell] = field(default_factory=list)

    @property
    def weekly(self) -> Decimal:
        return sum((one for one in self.hours if one), Decimal(0))


@dataclass(frozen=True, slots=True)
class Crew:
    hands: list[Hand]
    closed: list[ClosedDay]


def crew(today: date) -> Crew:
    """Everybody who works at a bench, and what is out of the usual from today on. Seven queries."""
    people = Person.objects.working().select_related("home").prefetch_related("benches", "working_days")
    spells = _spells(today)
    hands = [_hand(person, spells.get(person.pk, [])) for person in people]
    at_a_bench = [hand for hand in hands if hand.person.home_id or hand.spells]
    at_a_bench.sort(key=lambda hand: hand.person.home.position if hand.person.home else 99)
    return Crew(at_a_bench, list(ClosedDay.objects.filter(day__gte=today)[:CLOSED_SHOWN]))


def _hand(person: Person, spells: list[Spell]) -> Hand:
    week = {row.weekday: row.hours for row in person.working_days.all()}
    others = [bench.name for bench in person.benches.all() if bench.pk != person.home_id]
    return Hand(person, [week.get(day) for day in range(7)], others, spells)


def _spells(today: date) -> dict[int, list[Spell]]:
    """By person, those that are under way or still to come."""
    found: dict[int, list[Spell]] = {}
    for kind, rows in (
        ("leave", Leave.objects.select_related("person")),
        ("loan", Loan.objects.select_related("person", "department")),
        ("more", ExtraHours.objects.select_related("person")),
    ):
        for row in rows.filter(last_day__gte=today):
            words = words_of(row).removeprefix(f"{row.person} ")
            found.setdefault(row.person_id, []).append(Spell(row.pk, kind, words, row.first_day < today))
    return found
