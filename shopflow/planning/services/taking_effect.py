"""Measures tried on paper become rows when their draft is published."""

from __future__ import annotations

from collections.abc import Iterable
from decimal import Decimal
from typing import Any

from shopflow.catalogue.models import Department
from shopflow.common.refusals import Refused
from shopflow.instruments.models import Instrument
from shopflow.people.models import Person
from shopflow.planning.measures import HoldBack, LendAHand, LetGoOn, Measure, WorkMore
from shopflow.planning.models import Hold

from . import crew, waiting


def check(measures: Iterable[Measure], *, by: Person) -> None:
    """Refuse to try what could not be published."""
    for one in measures:
        match one:
            case LendAHand():
                crew.check_loan(**_loan(one), by=by)
            case WorkMore():
                crew.check_more(**_more(one), by=by)
            case HoldBack():
                waiting.check_hold(**_hold(one), by=by)


def of(measures: Iterable[Measure], *, by: Person) -> None:
    """Inside the transaction that publishes: lend, add hours, hold back, let go on; or refuse in words."""
    note = f"published by {by.name}"
    for one in measures:
        match one:
            case LendAHand():
                crew.lend(**_loan(one), note=note, by=by)
            case WorkMore():
                crew.work_more(**_more(one), note=note, by=by)
            case HoldBack():
                waiting.hold_back(**_hold(one), reason=note, by=by)
            case LetGoOn(instrument):
                Hold.objects.filter(instrument_id=instrument).delete()


def _loan(one: LendAHand) -> dict[str, Any]:
    return {
        "person": _row(Person, one.person),
        "department": _row(Department, one.department),
        "first": one.first_day,
        "last": one.last_day,
    }


def _more(one: WorkMore) -> dict[str, Any]:
    return {
        "person": _row(Person, one.person),
        "hours_a_day": Decimal(str(one.hours_a_day)),
        "first": one.first_day,
        "last": one.last_day,
    }


def _hold(one: HoldBack) -> dict[str, Any]:
    return {"instrument": _row(Instrument, one.instrument), "until": one.until}


def _row(model: Any, pk: int) -> Any:
    found = model.objects.filter(pk=pk).first()
    if found is None:
        raise Refused(f"That {model._meta.verbose_name} is no longer here.")
    return found
