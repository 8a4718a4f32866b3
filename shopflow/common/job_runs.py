"""The worker's side of jobs.py: take a job, tell how far it is, end it once, and find what was lost.

A job that several workers are told of is taken by one: the taking is a single conditional UPDATE. Every later
write names the attempt it belongs to, so a worker that was thought dead and comes back changes nothing.
"""

from __future__ import annotations

import logging
import threading
import time
from collections.abc import Iterator, Mapping
from contextlib import contextmanager, suppress
from datetime import timedelta
from typing import Any

from django.core.exceptions import ValidationError
from django.db import DatabaseError, connection
from django.db.models import F, Q, QuerySet

from shopflow.compute.errors import ComputeError

from . import clock, jobs
from .models import Job, Watch

log = logging.getLogger(__name__)

MOST_ATTEMPTS = 3
WRITE_EVERY_S = 1.0
BEAT_EVERY_S = 5.0
STALE_AFTER = timedelta(seconds=30)
# A waiting job whose message may have been lost is sent again after this long.
SEND_AGAIN_AFTER = timedelta(seconds=60)
KEEP_FOR = timedelta(days=90)
AWAKE_WITHIN = timedelta(seconds=60)
SEND_AT_MOST = 500


class TakenOver(Exception):
    """This attempt was given up for dead and another worker has the job: it no longer counts."""


class JobRun:
    """One attempt at one job, as the work sees it (jobs.Run)."""

    def __init__(self, job: Job) -> None:
        self.job = job
        self._written_at = 0.0
        self._looked_at = 0.0
        self._stop_asked = False

    def progress(self, done: int, total: int | None = None, note: str | None = None) -> None:
        """Say how far it is. Call it as often as you like: it is written at most once a second."""
        self.job.done = done
        self.job.total = self.job.total if total is None else total
        self.job.note = self.job.note if note is None else note
        if time.monotonic() - self._written_at >= WRITE_EVERY_S:
            self._written_at = time.monotonic()
            self.write(done=self.job.done, total=self.job.total, note=self.job.note, heartbeat=clock.now())

    def stopped(self) -> bool:
        """Whether somebody asked this job to stop; the work then puts things in order and returns."""
        if not self._stop_asked and time.monotonic() - self._looked_at >= WRITE_EVERY_S:
            self._looked_at = time.monotonic()
            self._stop_asked = self.mine().filter(stop_asked=True).exists()
        return self._stop_asked

    def mine(self) -> QuerySet[Job]:
        return Job.objects.filter(pk=self.job.pk, state=Job.State.RUNNING, attempts=self.job.attempts)

    def write(self, **values: Any) -> None:
        if not self.mine().update(**values):
            raise TakenOver(str(self.job))

    def end(self, state: Job.State, note: str, result: Mapping[str, Any] | None = None) -> None:
        told = {"done": self.job.done, "total": self.job.total}
        self.write(state=state, note=note, result=result, finished_at=clock.now(), **told)


def take(job_id: int) -> JobRun | None:
    """The job, if it still waits; None for every other delivery of the same message."""
    now = clock.now()
    waiting = Job.objects.filter(pk=job_id, state=Job.State.QUEUED)
    started = {"started_at": now, "heartbeat": now, "done": 0, "note": ""}
    if not waiting.update(state=Job.State.RUNNING, attempts=F("attempts") + 1, **started):
        return None
    return JobRun(Job.objects.get(pk=job_id))


def run(job_id: int) -> None:
    """Take the job and do it; whatever happens ends up in its row, in words."""
    attempt = take(job_id)
    if attempt is None:
        return
    with suppress(TakenOver), _heart_beating(attempt):
        try:
            result = jobs.work_for(attempt.job.kind)(attempt, **attempt.job.args)
            stopped = attempt.stopped()
            attempt.end(Job.State.STOPPED if stopped else Job.State.DONE, attempt.job.note, result)
        except TakenOver:
            raise
        except Exception as trouble:
            log.exception("%s failed", attempt.job)
            attempt.end(Job.State.FAILED, reason(trouble))


def reason(trouble: Exception) -> str:
    """Why a job failed, for the person who asked for it."""
    if isinstance(trouble, ValidationError):
        return " ".join(trouble.messages)
    if isinstance(trouble, jobs.Cannot | ComputeError):
        return str(trouble)
    if isinstance(trouble, OSError) and trouble.strerror:
        return f"The machine answered: {trouble.strerror}."
    return f"Something unexpected happened ({type(trouble).__name__}); the machine's log tells more."


@contextmanager
def _heart_beating(attempt: JobRun) -> Iterator[None]:
    """Show that the worker lives even while a long computation says nothing for a while."""
    over = threading.Event()

    def beat() -> None:
        try:
            while not over.wait(BEAT_EVERY_S):
                with suppress(DatabaseError):
                    attempt.mine().update(heartbeat=clock.now())
        finally:
            connection.close()

    heart = threading.Thread(target=beat, daemon=True)
    heart.start()
    try:
        yield
    finally:
        over.set()
        heart.join()


def sweep(*, every_waiting_job: bool = False) -> None:
    """Find what was lost with a worker or a broker, and start it again. Safe to run anywhere, any time."""
    now = clock.now()
    Watch.objects.update_or_create(pk=1, defaults={"seen_at": now})
    _give_back_stale()
    unsure = Q() if every_waiting_job else Q(woken_at=None) | Q(woken_at__lt=now - SEND_AGAIN_AFTER)
    waiting = Job.objects.filter(unsure, state=Job.State.QUEUED).order_by("created_at", "pk")
    ids = list(waiting.values_list("pk", flat=True)[:SEND_AT_MOST])
    if ids and jobs.wake(ids):
        Job.objects.filter(pk__in=ids).update(woken_at=now)
    Job.objects.filter(finished_at__lt=now - KEEP_FOR).delete()


def _give_back_stale() -> None:
    now = clock.now()
    stale = Job.objects.filter(state=Job.State.RUNNING, heartbeat__lt=now - STALE_AFTER)
    stale.filter(stop_asked=True).update(state=Job.State.STOPPED, finished_at=now)
    stale.filter(attempts__gte=MOST_ATTEMPTS).update(
        state=Job.State.FAILED,
        finished_at=now,
        note=f"The worker was cut off {MOST_ATTEMPTS} times during this work.",
    )
    stale.update(state=Job.State.QUEUED, woken_at=None)


def is_awake() -> bool:
    """Whether a worker has lately shown itself; False is what a page tells its manager."""
    since = clock.now() - AWAKE_WITHIN
    busy = Job.objects.filter(state=Job.State.RUNNING, heartbeat__gte=since)
    return Watch.objects.filter(seen_at__gte=since).exists() or busy.exists()
