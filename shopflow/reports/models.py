from __future__ import annotations

from django.db import models
from django.urls import reverse

from shopflow.common import clock
from shopflow.compute.calendar import IsoWeek


class WeeklyReport(models.Model):
    """One ISO week of the shop, kept as made: frozen figures and the last ledger line they knew."""

    year = models.PositiveSmallIntegerField("ISO year")
    week = models.PositiveSmallIntegerField("ISO week")
    figures = models.JSONField()
    last_move = models.BigIntegerField("last ledger line that it knew", default=0)
    made_at = models.DateTimeField(default=clock.now)
    made_by = models.CharField(max_length=60, default="the weekly clock")
    mailed_at = models.DateTimeField(null=True, blank=True)

    class Meta:
        ordering = ["-year", "-week"]
        constraints = [
            models.UniqueConstraint(fields=["year", "week"], name="one_report_per_iso_week"),
            models.CheckConstraint(condition=models.Q(week__gte=1, week__lte=53), name="iso_week_is_1_to_53"),
        ]

    def __str__(self) -> str:
        return f"{self.year}-W{self.week:02d}"

    def get_absolute_url(self) -> str:
        return reverse("reports:week", args=[self.iso_week])

    @property
    def iso_week(self) -> IsoWeek:
        return IsoWeek(self.year, self.week)


class TakenOut(models.Model):
    """Who took which of the shop's data out, and when."""

    what = models.CharField(max_length=40)
    by = models.ForeignKey("people.Person", on_delete=models.PROTECT, related_name="+")
    at = models.DateTimeField(default=clock.now)

    class Meta:
        ordering = ["-at", "-pk"]
        verbose_name_plural = "taken out"

    def __str__(self) -> str:
        return f"{self.what} by {self.by}"
