from __future__ import annotations

import uuid

from django.db import models

from shopflow.common import clock


class Photo(models.Model):
    """One picture of an instrument. Only copies made by the shop are ever served, never the file sent."""

    class Role(models.TextChoices):
        FOUND = "found", "as found"
        BEFORE = "before", "before"
        DURING = "during", "during the work"
        AFTER = "after", "after"

    class State(models.TextChoices):
        WAITING = "waiting", "copies being made"
        READY = "ready", "ready"
        REFUSED = "refused", "refused"

    key = models.UUIDField(default=uuid.uuid4, unique=True, editable=False)
    instrument = models.ForeignKey(
        "instruments.Instrument", on_delete=models.PROTECT, related_name="photos", editable=False
    )
    role = models.CharField(max_length=8, choices=Role.choices, default=Role.DURING)
    caption = models.CharField(max_length=200, blank=True)
    finding = models.ForeignKey(
        "instruments.Finding", on_delete=models.PROTECT, null=True, blank=True, related_name="photos"
    )
    for_customer = models.BooleanField("chosen for the customer to see", default=False)
    state = models.CharField(max_length=8, choices=State.choices, default=State.WAITING, editable=False)
    refusal = models.CharField(max_length=200, blank=True, editable=False)
    original_name = models.CharField(max_length=255, blank=True, editable=False)
    width = models.PositiveIntegerField(default=0, editable=False)
    height = models.PositiveIntegerField(default=0, editable=False)
    added_by = models.ForeignKey("people.Person", on_delete=models.PROTECT, related_name="+", editable=False)
    added_at = models.DateTimeField(default=clock.now, editable=False)

    class Meta:
        ordering = ["added_at", "pk"]

    def __str__(self) -> str:
        return self.caption or f"{self.get_role_display()}, {self.instrument.number}"
