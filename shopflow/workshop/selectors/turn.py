"""Whose turn it is at a bench, and why, in words."""

from __future__ import annotations

from datetime import UTC, date, datetime

from django.utils import timezone

from shopflow.workshop.models import Task

NEVER = datetime.max.replace(tzinfo=UTC)


def order_of_work(task: Task) -> tuple[bool, datetime, date, date, str, int]:
    """What a bench takes first: as planned, then the nearest promise, then what has been here longest."""
    piano = task.instrument
    planned = task.planned_for
    promised = date.max if task.at_the_owners else piano.promised_on or date.max
    arrived = piano.arrived_on or date.max
    return (planned is None, planned or NEVER, promised, arrived, piano.number, task.position)


def why_now(task: Task, *, today: date) -> str:
    """The reason for its place in the order of work."""
    return "; ".join(words for words in (_planned(task, today), _promised(task, today)) if words)


def _planned(task: Task, today: date) -> str:
    if task.planned_for is None:
        return ""
    day = timezone.localdate(task.planned_for)
    return "planned for today" if day <= today else f"planned for {_day(day, today)}"


def _promised(task: Task, today: date) -> str:
    piano = task.instrument
    if task.at_the_owners:
        # The promise was for the piano; a visit to it has a day of its own and is not late by it.
        return f"a visit; at its owner’s since {_day(piano.left_on, today)}" if piano.left_on else "a visit"
    if piano.promised_on:
        return f"promised {_day(piano.promised_on, today)}, {_until((piano.promised_on - today).days)}"
    if piano.arrived_on:
        return f"no date promised; in the house since {_day(piano.arrived_on, today)}"
    return "no date promised"


def _until(days: int) -> str:
    if days == 0:
        return "that is today"
    if days < 0:
        return f"{_days(-days)} late"
    return f"in {_days(days)}"


def _days(count: int) -> str:
    return "1 day" if count == 1 else f"{count} days"


def _day(day: date, today: date) -> str:
    year = "" if day.year == today.year else f" {day.year}"
    return f"{day:%a} {day.day} {day:%b}{year}"
