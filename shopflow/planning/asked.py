"""Asking for a plan, and how the asking is getting on."""

from __future__ import annotations

from datetime import datetime, timedelta

from shopflow.common import clock, job_runs, jobs
from shopflow.common.models import Job
from shopflow.people import access
from shopflow.people.access import Deed
from shopflow.people.models import Person

KIND = "plan"
# There is one shop to plan: while it is planned, everybody who asks gets the same job.
THE_SHOP = "shop"
SAID_FOR = timedelta(minutes=10)


def plan_anew(*, by: Person) -> Job:
    """Have today's truth planned and published; without measures there is nothing to decide."""
    access.require(by, Deed.PLAN)
    return jobs.enqueue(KIND, by=by, unique=THE_SHOP, by_name=by.name, publish=True)


def stop(*, by: Person) -> None:
    """The plan that is being looked for ends with the best found so far."""
    access.require(by, Deed.PLAN)
    job = latest()
    if job is not None and job.is_open:
        jobs.ask_to_stop(job.pk)


def latest() -> Job | None:
    """The last time the shop was planned, or is being planned."""
    return Job.objects.filter(kind=KIND, unique_key=f"{KIND}:{THE_SHOP}").order_by("-pk").first()


def worth_saying(job: Job | None, now: datetime) -> bool:
    """While it is open, and for a while after it went wrong."""
    if job is None:
        return False
    failed = job.state == Job.State.FAILED and job.finished_at and now - job.finished_at < SAID_FOR
    return bool(job.is_open or failed)


def worker_is_awake() -> bool:
    return job_runs.is_awake()


def due(*, night: datetime) -> bool:
    """Whether the plan of the night that ended at this moment is still to be made."""
    job = latest()
    return night <= clock.now() and (job is None or job.created_at < night)
