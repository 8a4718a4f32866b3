"""What nobody but a person can decide before a file comes in; each question is asked, none is guessed."""

from __future__ import annotations

import hashlib
from collections.abc import Iterable, Mapping
from dataclasses import dataclass, field

from shopflow.instruments import serials

from .days import Habit, Order, read_as
from .drafts import InstrumentDraft
from .house import House

MOST_ALIKE = 200
ANOTHER, LEAVE = "another", "leave"


@dataclass(frozen=True, slots=True)
class Question:
    """One tick or one choice. An answer counts only for what stood in the question when it was given."""

    name: str
    words: str
    choices: tuple[tuple[str, str], ...]
    answer: str = ""
    details: list[str] = field(default_factory=list)

    @property
    def is_open(self) -> bool:
        return self.answer not in {value for value, _ in self.choices}

    @property
    def is_tick(self) -> bool:
        return len(self.choices) == 1


def about_columns(unknown: list[str], answers: Mapping[str, str]) -> list[Question]:
    """Columns that the shop has no place for: left out only when somebody says so."""
    if not unknown:
        return []
    some = "This column is" if len(unknown) == 1 else f"These {len(unknown)} columns are"
    words = f"{some} not known, and what stands there will not be brought."
    tick = (
        _mark("columns", unknown),
        "Bring the rest without it" if len(unknown) == 1 else "Bring the rest without them",
    )
    return [Question("columns", words, (tick,), answers.get("columns", ""), unknown)]


def about_order(name: str, said: str, habit: Habit, answers: Mapping[str, str]) -> list[Question]:
    """A column of days that can all be read two ways."""
    if not habit.must_be_asked:
        return []
    key = f"order-{name}"
    words = f"In column {said} every day can be read two ways. What is {habit.either}?"
    return [
        Question(
            key,
            words,
            tuple((order.value, read_as(habit.either, order)) for order in Order),
            answers.get(key, ""),
        )
    ]


def about_known(drafts: list[InstrumentDraft], house: House, answers: Mapping[str, str]) -> list[Question]:
    """Numbers that the house knows already: left out, or the file is changed; never written over."""
    known = [draft for draft in drafts if draft.number.casefold() in house.numbers]
    if not known:
        return []
    details = [f"line {draft.line}: {house.numbers[draft.number.casefold()]}" for draft in known]
    some = "This instrument is" if len(known) == 1 else f"These {len(known)} instruments are"
    words = f"{some} known here already by number. What is known stays as it is."
    left = "Leave it out of this file" if len(known) == 1 else "Leave them out of this file"
    return [Question("known", words, ((_mark("known", details), left),), answers.get("known", ""), details)]


def about_alike(drafts: list[InstrumentDraft], house: House, answers: Mapping[str, str]) -> list[Question]:
    """Serials that are the same but for their spelling, here or further up in the file."""
    met: dict[str, list[str]] = {}
    asked = []
    for draft in drafts:
        plain = serials.plain(draft.facts.get("serial", ""))
        if not plain:
            continue
        others = [*house.serials.get(plain, []), *met.get(plain, [])]
        met.setdefault(plain, []).append(draft.number)
        if others:
            asked.append(_alike(draft, others, answers))
    return asked


def _alike(draft: InstrumentDraft, others: list[str], answers: Mapping[str, str]) -> Question:
    mark, named = _mark("alike", [draft.number, *others]), " and ".join(others[:3])
    words = (
        f"Line {draft.line}: {draft.number}, serial {draft.facts['serial']}, looks like instrument {named}."
    )
    choices = (
        (f"{ANOTHER}-{mark}", f"{draft.number} is another instrument: bring it in"),
        (f"{LEAVE}-{mark}", f"It is the same one: leave {draft.number} out"),
    )
    name = f"alike-{draft.line}"
    return Question(name, words, choices, answers.get(name, ""))


def _mark(what: str, said: Iterable[str]) -> str:
    """Short for exactly these words: a tick set under other words does not count."""
    return hashlib.sha256("\n".join([what, *said]).encode()).hexdigest()[:16]
