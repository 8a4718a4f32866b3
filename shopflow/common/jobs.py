"""Hand work to the background, and ask how it is getting on.

A job is a row, written in the caller's own transaction. After the commit a worker is told; when none can be
reached the next sweep tells it (see job_runs.py). So a tap neither waits for a job nor fails with the broker.

    @jobs.kind("weekly-report")
    def write_report(run: jobs.Run, *, year: int, week: int) -> dict[str, str]:
        run.progress(1, total=3, note="reading the ledger")
        ...

    jobs.enqueue("weekly-report", by=person, unique=f"{year}-W{week}", year=year, week=week)
"""

from __future__ import annotations

import logging
import time
from collections.abc import Callable, Mapping, Sequence
from typing import Any, Protocol

from django.conf import settings
from django.db import IntegrityError, transaction
from django.utils.module_loading import autodiscover_modules
from kombu import Connection
from kombu.exceptions import KombuError

from . import broker, clock
from .models import Job

log = logging.getLogger(__name__)

RUN_TASK = "shopflow.common.background.run_job"
# After a broker was found away, taps do not knock again for this long; the sweep makes up for it.
LEAVE_ALONE_S = 5.0


class Person(Protocol):
    """Whoever asks for work: anything with a key and a name to show."""

    pk: Any


class Run(Protocol):
    """What a kind of work is handed: a place to tell its progress and to hear that it is to stop."""

    def progress(self, done: int, total: int | None = None, note: str | None = None) -> None: ...

    def stopped(self) -> bool: ...


class Cannot(Exception):
    """Raised by a kind of work that cannot go on, with words for the person who asked."""


Work = Callable[..., Mapping[str, Any] | None]
_kinds: dict[str, Work] = {}


def kind(name: str) -> Callable[[Work], Work]:
    """Make a function in an app's `background.py` known as a kind of work. It must be safe to run twice."""

    def register(work: Work) -> Work:
        if name in _kinds:
            raise ValueError(f"two kinds of work are called {name!r}")
        _kinds[name] = work
        return work

    return register


def work_for(name: str) -> Work:
    """The function of this kind; every app's `background.py` is read before a name is called unknown."""
    if name not in _kinds:
        autodiscover_modules("background")
    if name not in _kinds:
        raise LookupError(f"no kind of work is called {name!r}; known are {sorted(_kinds)}")
    return _kinds[name]


def enqueue(kind: str, *, by: Person | None = None, unique: str | None = None, **args: Any) -> Job:
    """Have this work done after the caller's transaction; while one with the same `unique` is open, that one.

    The arguments are plain JSON: keys, numbers, texts. Only the clock asks on nobody's behalf.
    """
    work_for(kind)
    fresh = Job(kind=kind, args=args, unique_key=f"{kind}:{unique}" if unique else "")
    fresh.by_pk, fresh.by_name = (by.pk, str(by)) if by else (None, "")
    fresh.created_at = fresh.woken_at = clock.now()
    return _open(fresh)


def again(job_id: int, *, by: Person) -> Job:
    """Take up a job that failed or was stopped, from its beginning."""
    job = Job.objects.get(pk=job_id)
    if job.state not in {Job.State.FAILED, Job.State.STOPPED}:
        return job
    return enqueue(job.kind, by=by, unique=job.unique_key.removeprefix(f"{job.kind}:"), **job.args)


def ask_to_stop(job_id: int) -> None:
    """A job that waits is stopped at once; one that runs is asked to, and stops where it can."""
    now = clock.now()
    waiting = Job.objects.filter(pk=job_id, state=Job.State.QUEUED)
    if not waiting.update(state=Job.State.STOPPED, finished_at=now, note="Stopped before it began."):
        Job.objects.filter(pk=job_id, state=Job.State.RUNNING).update(stop_asked=True)


def _open(fresh: Job) -> Job:
    """Write the row, or find the open one of the same key."""
    try:
        with transaction.atomic():
            fresh.save(force_insert=True)
    except IntegrityError:
        there = Job.objects.open().filter(unique_key=fresh.unique_key).first()
        # None means that it ended between the two looks: then there is room for this one.
        return there or _open(fresh)
    transaction.on_commit(lambda: wake([fresh.pk]))
    return fresh


_leave_alone_until = 0.0


def wake(job_ids: Sequence[int]) -> bool:
    """Tell a worker of these jobs; False, quickly and without complaint, when none can be told."""
    global _leave_alone_until
    url = settings.CELERY_BROKER_URL
    if url == broker.NOBODY or time.monotonic() < _leave_alone_until:
        return False
    try:
        _send(url, job_ids)
    except (KombuError, OSError) as trouble:
        _leave_alone_until = time.monotonic() + LEAVE_ALONE_S
        log.warning("the broker is away (%s); %d job(s) wait for the next sweep", trouble, len(job_ids))
        return False
    return True


def _send(url: str, job_ids: Sequence[int]) -> None:
    from shopflow.celery import app

    hasty = settings.CELERY_BROKER_TRANSPORT_OPTIONS | broker.HASTY
    with Connection(url, transport_options=hasty) as line:
        for job_id in job_ids:
            app.send_task(RUN_TASK, (job_id,), connection=line, retry=False)
