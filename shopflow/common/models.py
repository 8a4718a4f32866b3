from __future__ import annotations

from django.db import models


class Pulse(models.Model):
    """One row, one number: it grows with every change Floor or Bench shows, so that a tablet asks cheaply."""

    number = models.BigIntegerField(default=0)

    class Meta:
        constraints = [models.CheckConstraint(condition=models.Q(pk=1), name="pulse_has_one_row")]

    def __str__(self) -> str:
        return f"pulse {self.number}"


class Watch(models.Model):
    """One row: when the worker last showed that it is awake, so that a page can say when it is not."""

    seen_at = models.DateTimeField()

    class Meta:
        constraints = [models.CheckConstraint(condition=models.Q(pk=1), name="watch_has_one_row")]

    def __str__(self) -> str:
        return f"worker seen {self.seen_at}"


class JobQuerySet(models.QuerySet["Job"]):
    def open(self) -> JobQuerySet:
        return self.filter(state__in=[Job.State.QUEUED, Job.State.RUNNING])


class Job(models.Model):
    """One piece of background work. This row, not the broker, is what remembers that it has to be done."""

    class State(models.TextChoices):
        QUEUED = "queued", "waiting for the worker"
        RUNNING = "running", "under way"
        DONE = "done", "done"
        FAILED = "failed", "failed"
        STOPPED = "stopped", "stopped"

    kind = models.CharField(max_length=60)
    args = models.JSONField(default=dict)
    state = models.CharField(max_length=10, choices=State, default=State.QUEUED)
    done = models.PositiveIntegerField(default=0)
    total = models.PositiveIntegerField(default=0)
    note = models.TextField(blank=True)
    result = models.JSONField(null=True)
    # While one of this key waits or runs, nobody adds a second.
    unique_key = models.CharField(max_length=200, blank=True)
    # Not a foreign key: `people` stands above `common`, and the line must outlive the person's.
    by_pk = models.BigIntegerField(null=True)
    by_name = models.CharField(max_length=200, blank=True)
    attempts = models.PositiveSmallIntegerField(default=0)
    stop_asked = models.BooleanField(default=False)
    created_at = models.DateTimeField()
    woken_at = models.DateTimeField(null=True)
    started_at = models.DateTimeField(null=True)
    heartbeat = models.DateTimeField(null=True)
    finished_at = models.DateTimeField(null=True)

    objects = JobQuerySet.as_manager()

    class Meta:
        indexes = [models.Index(fields=["state", "created_at"], name="job_by_state")]
        constraints = [
            models.CheckConstraint(
                condition=models.Q(state__in=["queued", "running", "done", "failed", "stopped"]),
                name="job_state_is_known",
            ),
            models.UniqueConstraint(
                fields=["unique_key"],
                condition=models.Q(state__in=["queued", "running"]) & ~models.Q(unique_key=""),
                name="job_unique_while_open",
            ),
        ]

    def __str__(self) -> str:
        return f"{self.kind} {self.pk}: {self.state}"

    @property
    def is_open(self) -> bool:
        return self.state in {self.State.QUEUED, self.State.RUNNING}

    @property
    def percent(self) -> int:
        """How far it has come, for a bar; 0 while nobody knows how much there is."""
        return min(100, 100 * self.done // self.total) if self.total else 0
