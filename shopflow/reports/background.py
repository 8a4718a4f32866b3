"""The weekly clock, and the job that makes reports.

Celery's beat does not wait for Monday at six: it looks every quarter of an hour, and each worker looks when
it starts, whether a finished week is without its report. So a machine that was off on Monday, a shop that
changed its time zone, two beats or a clock put right still give one report for each week, and never two: open
jobs have one key, and the database keeps one report for a week.
"""

from __future__ import annotations

import logging
from datetime import timedelta
from smtplib import SMTPException
from typing import Any

from celery.signals import worker_ready

from shopflow.catalogue.selectors import the_shop
from shopflow.celery import app
from shopflow.common import clock, jobs
from shopflow.common.mail import goes_out
from shopflow.common.models import Job
from shopflow.common.refusals import Refused
from shopflow.compute.calendar import IsoWeek
from shopflow.people import access
from shopflow.people.access import Deed
from shopflow.people.models import Person

from . import services
from .models import WeeklyReport
from .selectors import due
from .selectors.readers import readers

log = logging.getLogger(__name__)

KIND = due.KIND
TRY_AGAIN_AFTER = timedelta(minutes=50)


@jobs.kind(KIND)
def write_reports(
    run: jobs.Run, *, weeks: list[str], asked_by: int | None = None, mail: str = ""
) -> dict[str, Any]:
    """Make the reports of these weeks; the ones that are there stay as they are. Then mail the one named."""
    person = Person.objects.get(pk=asked_by) if asked_by is not None else None
    for place, written in enumerate(weeks):
        run.progress(place, total=len(weeks), note=f"reading the ledger of {written}")
        if run.stopped():
            break
        _make(IsoWeek.parse(written), person)
    if mail:
        _mail(due.report_of(IsoWeek.parse(mail)))
    run.progress(len(weeks), total=len(weeks), note="")
    return {"weeks": weeks}


def ask_for(*, week: IsoWeek, by: Person) -> Job:
    """Have the report of one week made; while that is under way, everybody who asks gets the same job."""
    access.require(by, Deed.REPORTS)
    services.check_can_be_made(week)
    return jobs.enqueue(KIND, by=by, unique=str(week), weeks=[str(week)], asked_by=by.pk)


def _make(week: IsoWeek, person: Person | None) -> None:
    try:
        services.make_report(week=week, by=person)
    except Refused as refused:
        raise jobs.Cannot(refused.message) from refused


def _mail(report: WeeklyReport | None) -> None:
    try:
        if report is not None:
            services.mail_report(report=report)
    except (OSError, SMTPException) as trouble:
        log.exception("the report %s could not be mailed", report)
        raise jobs.Cannot(
            f"The report {report} is made and kept, but it could not be mailed ({trouble}). "
            "It is tried again within the hour."
        ) from trouble


@app.task
def look() -> None:
    """Is there a finished week without report, or the last one's still to be mailed? Then let it be done.

    Only the last week's report is mailed by itself: after a long absence nobody wants a heap of letters.
    """
    now, zone = clock.now(), the_shop().zone
    weeks, last = due.weeks_due(now=now, zone=zone), due.last_due(now=now, zone=zone)
    unsent = last in weeks or due.is_unsent(last)
    mail = str(last) if unsent and goes_out() and readers() else ""
    if weeks or (mail and not _failed_lately()):
        jobs.enqueue(KIND, by=None, unique="due", weeks=[str(week) for week in weeks], mail=mail)


def _failed_lately() -> bool:
    """A mail server that is away is asked once an hour, not at every look."""
    lately = Job.objects.filter(kind=KIND, state=Job.State.FAILED, unique_key=f"{KIND}:due")
    return lately.filter(finished_at__gt=clock.now() - TRY_AGAIN_AFTER).exists()


@worker_ready.connect
def look_at_once(**_: Any) -> None:
    """The shop was perhaps off on Monday."""
    look()
