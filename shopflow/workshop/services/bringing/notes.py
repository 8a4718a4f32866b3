"""What was assumed or noticed while a file was read, in sentences for the one who brings it."""

from __future__ import annotations

from collections.abc import Sequence

from .days import Habit
from .drafts import InstrumentDraft
from .owners import Owners

_NAMED = 5


def notes_on(drafts: Sequence[InstrumentDraft], owners: Owners) -> list[str]:
    """Everything about these instruments that a person may want to look at twice."""
    return [
        note
        for note in (
            _without_arrival(drafts),
            _promised_too_early(drafts),
            _by_route(drafts),
            _own_words(drafts),
            _without_hours(drafts),
            _known_owners(owners),
            _namesakes(owners),
        )
        if note
    ]


def on_days(said: str, habit: Habit) -> str:
    if habit.order is None:
        return ""
    return f"Column {said} was read with {habit.order.words}, because of {habit.shown_by.strip()}."


def on_repeats(lines: Sequence[int]) -> str:
    if not lines:
        return ""
    return f"{_lines(lines)} nothing that an earlier line has not told; nothing is doubled."


def _without_arrival(drafts: Sequence[InstrumentDraft]) -> str:
    numbers = [
        draft.number
        for draft in drafts
        if "arrived_on" not in draft.facts and "arrived_on" not in draft.asked
    ]
    return f"No day of arrival, so today is written: {_few(numbers)}." if numbers else ""


def _promised_too_early(drafts: Sequence[InstrumentDraft]) -> str:
    numbers = [
        draft.number
        for draft in drafts
        if draft.arrived_on and draft.promised_on and draft.promised_on < draft.arrived_on
    ]
    return f"Promised for a day before they came; is that right? {_few(numbers)}." if numbers else ""


def _by_route(drafts: Sequence[InstrumentDraft]) -> str:
    numbers = [f"{draft.number} ({draft.route.code})" for draft in drafts if draft.route and draft.by_route]
    return (
        f"No task is named, so all tasks of the route are laid out, on the rack: {_few(numbers)}."
        if numbers
        else ""
    )


def _own_words(drafts: Sequence[InstrumentDraft]) -> str:
    names = list(dict.fromkeys(task.name for draft in drafts for task in draft.tasks if not task.operation))
    return f"Tasks in your own words, not from your list of operations: {_few(names)}." if names else ""


def _without_hours(drafts: Sequence[InstrumentDraft]) -> str:
    count = sum(1 for draft in drafts for task in draft.tasks if not task.operation and task.hours is None)
    what = "task in your own words has" if count == 1 else "tasks in your own words have"
    return f"{count} {what} no hours and will count as 0 h until somebody says more." if count else ""


def _known_owners(owners: Owners) -> str:
    names = [customer.name for customer in owners.known]
    if not names:
        return ""
    return f"Known already by name and e-mail or telephone, and left as they are: {_few(names)}."


def _namesakes(owners: Owners) -> str:
    if not owners.namesakes:
        return ""
    words = "Somebody of this name is known here; by the name alone nobody is taken for the same one"
    return f"{words}: {_few(owners.namesakes)}."


def _few(names: Sequence[str]) -> str:
    more = len(names) - _NAMED
    return ", ".join(names[:_NAMED]) + (f" and {more} more" if more > 0 else "")


def _lines(lines: Sequence[int]) -> str:
    word = "Line" if len(lines) == 1 else "Lines"
    return f"{word} {_few([str(line) for line in lines])} {'tells' if len(lines) == 1 else 'tell'}"
