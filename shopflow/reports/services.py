"""Making a weekly report, once, mailing it, once, and noting what leaves the house."""

from __future__ import annotations

import logging

from django.db import IntegrityError, transaction

from shopflow.catalogue.selectors import the_shop
from shopflow.common import clock
from shopflow.common.mail import goes_out
from shopflow.common.refusals import Refused
from shopflow.compute.calendar import IsoWeek
from shopflow.people import access
from shopflow.people.access import Deed
from shopflow.people.models import Person

from . import letter
from .models import TakenOut, WeeklyReport
from .selectors import due
from .selectors.ahead import ahead_of
from .selectors.readers import readers
from .selectors.week import week_figures

log = logging.getLogger(__name__)


def make_report(*, week: IsoWeek, by: Person | None) -> WeeklyReport:
    """The report of a finished week: the one that is there, else a new one with its figures frozen.

    `by` is None only for the weekly clock. However often and from wherever it is asked, a week has one.
    """
    if by is not None:
        access.require(by, Deed.REPORTS)
    return due.report_of(week) or _make(week, by)


def make_what_is_due() -> list[WeeklyReport]:
    """For the weekly clock: every report that should be there by now and is not."""
    weeks = due.weeks_due(now=clock.now(), zone=the_shop().zone)
    return [make_report(week=week, by=None) for week in weeks]


def mail_report(*, report: WeeklyReport) -> bool:
    """Send the report to its readers; True when it went out now.

    Not where it was sent before, nobody reads it or no mail server is named.
    Sent first and noted after: a worker cut off in between sends it again, under the same Message-ID, rather
    than never. Trouble of the mail is raised to the caller; the report is kept whatever happens.
    """
    to = readers()
    if report.mailed_at is not None or not to or not goes_out():
        return False
    letter.to_readers(report, to=to).send()
    WeeklyReport.objects.filter(pk=report.pk, mailed_at=None).update(mailed_at=clock.now())
    report.mailed_at = clock.now()
    return True


def note_taken_out(*, what: str, by: Person) -> TakenOut:
    """Write down, for everybody in the office to see, that data leaves the house."""
    access.require(by, Deed.EXPORT)
    log.info("%s took out %s", by.sign_in_name, what)
    return TakenOut.objects.create(what=what, by=by, at=clock.now())


def check_can_be_made(week: IsoWeek) -> None:
    """Refuse, in words, a week that is not over or lies before everything in the ledger."""
    zone = the_shop().zone
    first = due.first_week(zone)
    if first is None or week < first:
        begins = f"begins in {first}" if first else "is empty"
        raise Refused(f"There is nothing to tell of {week}: the ledger {begins}.")
    if not due.is_over(week, now=clock.now(), zone=zone):
        raise Refused(
            f"{week} is not over: it ends with Sunday {week.sunday():%d %b %Y}. Its page shows the figures "
            "so far; a report is kept of whole weeks only."
        )


def _make(week: IsoWeek, by: Person | None) -> WeeklyReport:
    check_can_be_made(week)
    figures = week_figures(week)
    ahead = ahead_of(week, now=clock.now())
    if ahead is not None:
        figures["ahead"] = ahead
    made = WeeklyReport(
        year=week.year, week=week.week, figures=figures, last_move=figures["last_move"], made_at=clock.now()
    )
    if by is not None:
        made.made_by = by.name
    try:
        with transaction.atomic():
            made.save(force_insert=True)
    except IntegrityError:
        # Somebody else was quicker: theirs is the report.
        return WeeklyReport.objects.get(year=week.year, week=week.week)
    return made
