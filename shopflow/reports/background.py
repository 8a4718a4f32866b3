"""The weekly clock, and the job that makes reports.

Celery's beat does not wait for Monday at six: it looks every quarter of an hour, and each worker looks when
it starts, whether a finished week is without its report. So a machine that was off on Monday, a shop that
changed its time zone, two beats or a clock put right still give one report for each week, and never two: open
jobs have one key, and the database keeps one report for a week.
"""

from __future__ import annotations

from typing import Any

from celery.signals import worker_ready

from shopflow.catalogue.selectors import the_shop
from shopflow.celery import app
from shopflow.common import clock, jobs
from shopflow.common.models import Job
from shopflow.compute.calendar import IsoWeek
from shopflow.people import access
from shopflow.people.access import Deed
from shopflow.people.models import Person
from shopflow.workshop.services.refusals import Refused

from . import services
from .selectors import due

KIND = "weekly-report"


@jobs.kind(KIND)
def write_reports(run: jobs.Run, *, weeks: list[str], asked_by: int | None = None) -> dict[str, Any]:
    """Make the reports of these weeks; the ones that are there stay as they are."""
    person = Person.objects.get(pk=asked_by) if asked_by is not None else None
    for place, written in enumerate(weeks):
        run.progress(place, total=len(weeks), note=f"reading the ledger of {written}")
        if run.stopped():
            break
        _make(IsoWeek.parse(written), person)
    run.progress(len(weeks), note="")
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


@app.task
def look() -> None:
    """Is there a finished week without report? Then let it be made."""
    weeks = due.weeks_due(now=clock.now(), zone=the_shop().zone)
    if weeks:
        jobs.enqueue(KIND, by=None, unique="due", weeks=[str(week) for week in weeks])


@worker_ready.connect
def look_at_once(**_: Any) -> None:
    """The shop was perhaps off on Monday."""
    look()
