"""What will happen to a file: what comes in, what is assumed, what is asked, what stands in the way."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field

from .days import Habit, Order, habit_of
from .drafts import InstrumentDraft
from .facts import FactsReader
from .heading import Heading, Line, read_heading
from .house import House
from .notes import notes_on, on_days, on_repeats
from .owners import Owners, owners_of
from .problems import SHOWN, Problem, Problems
from .questions import (
    LEAVE,
    MOST_ALIKE,
    Question,
    about_alike,
    about_columns,
    about_known,
    about_order,
)
from .reading import Table
from .tasks import TaskReader

DAYS = ("arrived_on", "promised_on")


@dataclass(slots=True)
class Plan:
    problems: list[Problem]
    questions: list[Question] = field(default_factory=list)
    coming: list[InstrumentDraft] = field(default_factory=list)
    left_out: list[InstrumentDraft] = field(default_factory=list)
    owners: Owners = field(default_factory=Owners)
    notes: list[str] = field(default_factory=list)

    @property
    def is_ready(self) -> bool:
        return not self.problems and bool(self.coming) and not self.open_questions

    @property
    def open_questions(self) -> int:
        return sum(1 for question in self.questions if question.is_open)

    @property
    def first_problems(self) -> list[Problem]:
        return self.problems[:SHOWN]

    @property
    def more_problems(self) -> int:
        return max(0, len(self.problems) - SHOWN)

    @property
    def task_count(self) -> int:
        return sum(len(draft.tasks) for draft in self.coming)


def plan_for(table: Table, answers: Mapping[str, str], house: House) -> Plan:
    """Read every row against the shop. Nothing is written, and nothing is decided that nobody answered."""
    problems = Problems(list(table.problems))
    heading = read_heading(table, problems)
    if len(problems.found) > len(table.problems):
        # Under wrong names every row would be wrong, and nobody would see why.
        return Plan(problems.in_order())
    lines = heading.lines(table, problems)
    habits = {name: habit_of(_cells(lines, name)) for name in DAYS if name in heading.places}
    reader = FactsReader(house=house, heading=heading, orders=_orders(habits, answers), problems=problems)
    tasks = TaskReader(house=house, heading=heading, problems=problems)
    drafts = []
    for draft, told in reader.instruments(lines):
        tasks.give(draft, told)
        drafts.append(draft)
    questions = _questions(heading, habits, drafts, house, answers)
    _refuse_too_many_alike(questions, problems)
    coming, left_out = _parted(drafts, questions, house)
    owners = owners_of(coming, house.customers)
    notes = [*table.notes, *heading.notes]
    notes += [on_days(heading.column(name), habit) for name, habit in habits.items()]
    notes += [on_repeats(reader.nothing_new), *notes_on(coming, owners)]
    return Plan(problems.in_order(), questions, coming, left_out, owners, [note for note in notes if note])


def _cells(lines: list[Line], name: str) -> list[str]:
    return [line.cells[name] for line in lines if name in line.cells]


def _orders(habits: Mapping[str, Habit], answers: Mapping[str, str]) -> dict[str, Order | None]:
    """How to read the days of each column: as they show it, else as somebody said."""
    said = {name: answers.get(f"order-{name}", "") for name in habits}
    return {
        name: habit.order or (Order(said[name]) if said[name] in set(Order) else None)
        for name, habit in habits.items()
    }


def _questions(
    heading: Heading,
    habits: Mapping[str, Habit],
    drafts: list[InstrumentDraft],
    house: House,
    answers: Mapping[str, str],
) -> list[Question]:
    asked = about_columns(heading.unknown, answers)
    for name, habit in habits.items():
        asked += about_order(name, heading.column(name), habit, answers)
    asked += about_known(drafts, house, answers)
    fresh = [draft for draft in drafts if draft.number.casefold() not in house.numbers]
    return asked + about_alike(fresh, house, answers)


def _refuse_too_many_alike(questions: list[Question], problems: Problems) -> None:
    alike = [question for question in questions if question.name.startswith("alike-")]
    if len(alike) > MOST_ALIKE:
        given = f"{len(alike)} serials look like another one's"
        problems.add(0, "serial", given, f"at most {MOST_ALIKE} in one file; look through the column first")


def _parted(
    drafts: list[InstrumentDraft], questions: list[Question], house: House
) -> tuple[list[InstrumentDraft], list[InstrumentDraft]]:
    """Those that come in, and those that the answers so far leave out."""
    given = {question.name: question for question in questions if not question.is_open}
    coming: list[InstrumentDraft] = []
    left_out: list[InstrumentDraft] = []
    for draft in drafts:
        known = draft.number.casefold() in house.numbers and "known" in given
        alike = given.get(f"alike-{draft.line}")
        same = alike is not None and alike.answer.startswith(LEAVE)
        (left_out if known or same else coming).append(draft)
    return coming, left_out
