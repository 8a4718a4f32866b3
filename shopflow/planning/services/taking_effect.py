"""Measures tried on paper become rows when their draft is published."""

from __future__ import annotations

from collections.abc import Iterable

from shopflow.people.models import Person
from shopflow.planning.measures import HoldBack, LendAHand, LetGoOn, Measure, WorkMore
from shopflow.planning.models import ExtraHours, Hold, Loan


def of(measures: Iterable[Measure], *, by: Person) -> None:
    """Inside the transaction that publishes: lend, add hours, hold back, let go on."""
    for one in measures:
        _take_effect(one, note=f"published by {by.name}")


def _take_effect(one: Measure, *, note: str) -> None:
    match one:
        case LendAHand(person, department, first_day, last_day):
            Loan.objects.create(
                person_id=person,
                department_id=department,
                first_day=first_day,
                last_day=last_day,
                note=note,
            )
        case WorkMore(person, hours_a_day, first_day, last_day):
            ExtraHours.objects.create(
                person_id=person,
                hours_a_day=hours_a_day,
                first_day=first_day,
                last_day=last_day,
                note=note,
            )
        case HoldBack(instrument, until):
            Hold.objects.update_or_create(instrument_id=instrument, defaults={"until": until, "reason": note})
        case LetGoOn(instrument):
            Hold.objects.filter(instrument_id=instrument).delete()
