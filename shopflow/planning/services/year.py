"""The year's target, which is the owner's, and the closed days, which are the office's."""

from __future__ import annotations

from datetime import date, timedelta

from django.db import transaction

from shopflow.common.refusals import Refused
from shopflow.people import access
from shopflow.people.access import Deed
from shopflow.people.models import Person
from shopflow.planning.models import AnnualTarget, ClosedDay
from shopflow.planning.selectors import weekdays_worked

LONGEST = 92
YEARS = range(2000, 2101)


@transaction.atomic
def set_target(*, year: int, instruments: int, by: Person) -> AnnualTarget:
    access.require(by, Deed.TARGET)
    if year not in YEARS or not 1 <= instruments <= 5000:
        raise Refused(f"Got {instruments} in {year}; allowed is 1 to 5,000 instruments, 2000 to 2100.")
    target, _ = AnnualTarget.objects.update_or_create(year=year, defaults={"instruments": instruments})
    return target


@transaction.atomic
def close_days(*, first: date, last: date | None, name: str, by: Person) -> list[date]:
    """Close a day, or all working days from the first to the last; those that are newly closed.

    Days that are closed already keep the name they have. Within a range the weekdays on which nobody works
    are left out, since nothing is lost on them.
    """
    access.require(by, Deed.SET_UP)
    _refuse_bad_range(first, last or first)
    wanted = [first] if last in {None, first} else _working_days(first, last or first)
    known = set(ClosedDay.objects.filter(day__in=wanted).values_list("day", flat=True))
    fresh = [day for day in wanted if day not in known]
    if not fresh:
        raise Refused("The shop is closed on those days already, or nobody works on them.", field="first")
    ClosedDay.objects.bulk_create(ClosedDay(day=day, name=name) for day in fresh)
    return fresh


@transaction.atomic
def open_day(*, closed: ClosedDay, by: Person) -> None:
    """Take a day off the list of closed days."""
    access.require(by, Deed.SET_UP)
    closed.delete()


def _refuse_bad_range(first: date, last: date) -> None:
    if first.year not in YEARS or last.year not in YEARS:
        raise Refused(f"Got {first:%d %b %Y}; allowed is 2000 to 2100.", field="first")
    if not first <= last <= first + timedelta(days=LONGEST):
        raise Refused(
            f"Got {first:%d %b %Y} to {last:%d %b %Y}; the last day comes after the first, "
            f"at most {LONGEST} days later.",
            field="last",
        )


def _working_days(first: date, last: date) -> list[date]:
    worked = set(weekdays_worked())
    days = (first + timedelta(days=number) for number in range((last - first).days + 1))
    return [day for day in days if day.weekday() in worked]
