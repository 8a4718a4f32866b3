"""What the worker is called for by name: one job, or a look round for lost ones."""

from __future__ import annotations

from typing import Any

from celery.signals import worker_ready

from shopflow.celery import app

from . import job_runs, jobs


@app.task(name=jobs.RUN_TASK)
def run_job(job_id: int) -> None:
    job_runs.run(job_id)


@app.task
def sweep() -> None:
    job_runs.sweep()


@app.task
def ring(kind: str, unique: str = "", **args: Any) -> None:
    """For the weekly clock: hand over a job of this kind on nobody's behalf."""
    jobs.enqueue(kind, by=None, unique=unique, **args)


@worker_ready.connect
def take_up_what_waits(**_: Any) -> None:
    """A new worker cannot know what the last one had in hand or what the broker lost."""
    job_runs.sweep(every_waiting_job=True)
