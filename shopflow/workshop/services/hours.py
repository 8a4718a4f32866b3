"""Hands-on hours, entered by the one who worked."""

from __future__ import annotations

from datetime import date, timedelta
from decimal import Decimal

from django.db import transaction

from shopflow.common import clock
from shopflow.common.refusals import Refused
from shopflow.people import access
from shopflow.people.access import Deed
from shopflow.people.models import Person
from shopflow.workshop.models import HoursSpent, Task

LEAST, MOST = Decimal("0.05"), Decimal(24)
TAKE_BACK_WITHIN = timedelta(hours=24)


@transaction.atomic
def enter_hours(*, task: Task, hours: Decimal, by: Person, worked_on: date | None = None) -> HoursSpent:
    """Write hours of one day on a task: 0.05 to 24, today or up to 60 days back."""
    access.require(by, Deed.HOURS)
    if not hours.is_finite() or not LEAST <= hours <= MOST:
        raise Refused(f"Hours: got {hours}; allowed is {LEAST} to {MOST} for one day.")
    day = worked_on or clock.today()
    if not clock.today() - timedelta(days=60) <= day <= clock.today():
        raise Refused(f"Worked on {day:%d %b %Y}: allowed is today or up to 60 days back.")
    return HoursSpent.objects.create(
        task=task, person=by, hours=hours.quantize(Decimal("0.01")), worked_on=day, recorded_at=clock.now()
    )


@transaction.atomic
def take_back(*, entry: HoursSpent, by: Person) -> None:
    """Take away hours entered by mistake: one's own, within a day of entering them."""
    access.require(by, Deed.HOURS)
    if entry.person_id != by.pk:
        raise Refused(f"These are {entry.person.name}'s hours.")
    if clock.now() - entry.recorded_at > TAKE_BACK_WITHIN:
        raise Refused("These hours were entered more than a day ago and stay.")
    HoursSpent.objects.filter(pk=entry.pk).delete()
