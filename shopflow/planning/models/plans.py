"""Plans: what each bench does when, as computed once from what the ledger knew."""

from __future__ import annotations

from django.db import models
from django.db.models import Q

from shopflow.common import clock


class Plan(models.Model):
    """One computed plan. At most one is published; drafts stand beside it until published or dropped."""

    class State(models.TextChoices):
        BEING_MADE = "making", "being made"
        DRAFT = "draft", "draft, on paper only"
        PUBLISHED = "published", "published"
        PAST = "past", "replaced"
        DROPPED = "dropped", "dropped"

    state = models.CharField(max_length=9, choices=State.choices, default=State.BEING_MADE)
    # The draft's measures (a loan, extra hours, a hold ...) as plain data; they become rows when published.
    measures = models.JSONField(default=list)
    beside = models.ForeignKey(
        "self", on_delete=models.SET_NULL, null=True, blank=True, related_name="drafts"
    )
    last_move = models.BigIntegerField("last ledger line that it knew", default=0)
    begins_at = models.DateTimeField(help_text="the moment from which it plans")
    made_at = models.DateTimeField(default=clock.now)
    made_by = models.CharField(max_length=60, default="the nightly clock")
    published_at = models.DateTimeField(null=True, blank=True)
    published_by = models.CharField(max_length=60, blank=True)
    seed = models.IntegerField(default=0)
    tries = models.PositiveIntegerField(default=0)
    figures = models.JSONField(default=dict)

    class Meta:
        ordering = ["-pk"]
        constraints = [
            models.UniqueConstraint(
                fields=["state"], condition=Q(state="published"), name="one_plan_is_published"
            )
        ]

    def __str__(self) -> str:
        return f"plan {self.pk} ({self.get_state_display()})"


class PlanLine(models.Model):
    """One stretch of hands-on work of a task in a plan; a task with a rest in its middle has two."""

    plan = models.ForeignKey(Plan, on_delete=models.CASCADE, related_name="lines")
    task = models.ForeignKey("workshop.Task", on_delete=models.CASCADE, related_name="+")
    part = models.PositiveSmallIntegerField(default=0)
    department = models.ForeignKey("catalogue.Department", on_delete=models.CASCADE, related_name="+")
    instrument = models.ForeignKey("instruments.Instrument", on_delete=models.CASCADE, related_name="+")
    starts_at = models.DateTimeField()
    ends_at = models.DateTimeField()
    rest_until = models.DateTimeField(null=True, blank=True)
    hours = models.DecimalField("hands-on hours", max_digits=6, decimal_places=2)

    class Meta:
        ordering = ["starts_at", "pk"]
        constraints = [
            models.UniqueConstraint(fields=["plan", "task", "part"], name="line_once_per_plan_and_part")
        ]
        indexes = [models.Index(fields=["plan", "department", "starts_at"], name="plan_lines_of_a_bench")]

    def __str__(self) -> str:
        return f"{self.task_id}.{self.part} {self.starts_at:%d %b %H:%M}"


class InstrumentOutlook(models.Model):
    """When one instrument will be finished, by the runs made with a plan."""

    plan = models.ForeignKey(Plan, on_delete=models.CASCADE, related_name="outlooks")
    instrument = models.ForeignKey(
        "instruments.Instrument", on_delete=models.CASCADE, related_name="outlooks"
    )
    planned = models.DateTimeField()
    p10 = models.DateTimeField()
    p50 = models.DateTimeField()
    p80 = models.DateTimeField()
    p90 = models.DateTimeField()
    odds = models.FloatField("odds of the promised day", null=True, blank=True)

    class Meta:
        ordering = ["p80", "pk"]
        constraints = [models.UniqueConstraint(fields=["plan", "instrument"], name="outlook_once_per_plan")]

    def __str__(self) -> str:
        return f"{self.instrument_id}: {self.p80:%d %b %Y}"
