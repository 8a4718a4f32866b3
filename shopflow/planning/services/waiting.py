"""What work has to wait for besides hands: parts on order, and the manager's own holding back."""

from __future__ import annotations

from datetime import date, timedelta

from django.db import transaction

from shopflow.common import clock
from shopflow.common.refusals import Refused
from shopflow.instruments.models import Instrument
from shopflow.people import access
from shopflow.people.access import Deed
from shopflow.people.models import Person
from shopflow.planning.models import Hold, PartOnOrder
from shopflow.workshop.models import Task

AHEAD = timedelta(days=730)


@transaction.atomic
def order_part(*, task: Task, what: str, ordered_on: date, expected_on: date, by: Person) -> PartOnOrder:
    """The task cannot be begun before the part is expected. The same part sent twice is awaited once."""
    access.require(by, Deed.PLAN)
    if not Task.objects.open().filter(pk=task.pk).exists():
        raise Refused(f"{task} is signed or dropped: nothing waits there any more.", field="task")
    _refuse_bad_days(ordered_on, expected_on)
    # Held until the end of this deed, so that two copies of one sending come one after the other.
    Task.objects.select_for_update(of=("self",)).get(pk=task.pk)
    part, _ = PartOnOrder.objects.get_or_create(
        task=task, what=what, ordered_on=ordered_on, expected_on=expected_on, arrived_on=None
    )
    return part


@transaction.atomic
def change_part(
    *, part: PartOnOrder, what: str, ordered_on: date, expected_on: date, by: Person
) -> PartOnOrder:
    access.require(by, Deed.PLAN)
    _refuse_bad_days(ordered_on, expected_on)
    part.what, part.ordered_on, part.expected_on = what, ordered_on, expected_on
    part.save()
    return part


@transaction.atomic
def part_arrived(*, part: PartOnOrder, by: Person) -> None:
    access.require(by, Deed.PLAN)
    part.arrived_on = part.arrived_on or clock.today()
    part.save(update_fields=["arrived_on"])


@transaction.atomic
def forget_part(*, part: PartOnOrder, by: Person) -> None:
    """It was not ordered after all; nothing waits for it."""
    access.require(by, Deed.PLAN)
    part.delete()


@transaction.atomic
def hold_back(*, instrument: Instrument, until: date, reason: str = "", by: Person) -> Hold:
    """Nothing new of an instrument is begun before a day; what is under way goes on."""
    check_hold(instrument=instrument, until=until, by=by)
    row, _ = Hold.objects.update_or_create(instrument=instrument, defaults={"until": until, "reason": reason})
    return row


def check_hold(*, instrument: Instrument, until: date, by: Person) -> None:
    """Refuse a holding back that cannot be."""
    access.require(by, Deed.PLAN)
    today = clock.today()
    if not today < until <= today + AHEAD:
        raise Refused(
            f"Got {until}; allowed is {today + timedelta(days=1)} to {today + AHEAD}.", field="until"
        )
    if instrument.left_on or instrument.finished_on:
        raise Refused(f"{instrument} is finished: there is nothing to hold back.", field="number")


@transaction.atomic
def let_go_on(*, hold: Hold, by: Person) -> None:
    access.require(by, Deed.PLAN)
    hold.delete()


def _refuse_bad_days(ordered: date, expected: date) -> None:
    today = clock.today()
    if not today - AHEAD <= ordered <= today:
        raise Refused(f"Got {ordered}; allowed is {today - AHEAD} to today, {today}.", field="ordered_on")
    if not ordered <= expected <= today + AHEAD:
        raise Refused(
            f"Got {expected}; allowed is the day it was ordered, {ordered}, to {today + AHEAD}.",
            field="expected_on",
        )
