"""What was left as found, and the report with which an instrument goes home."""

from __future__ import annotations

from django.db import models
from django.db.models import Q

from shopflow.catalogue.models.work import MONEY
from shopflow.common import clock
from shopflow.instruments.models import Finding


class LeftAsFound(models.Model):
    """A finding that was not repaired, on purpose: why, who decided, what to expect, whether it can wait."""

    finding = models.ForeignKey(Finding, on_delete=models.PROTECT, related_name="left_as_found")
    reason = models.CharField(max_length=5, choices=Finding.Reason.choices)
    decided_by = models.CharField("who decided", max_length=80)
    decided_at = models.DateTimeField(default=clock.now)
    consequence = models.CharField("what to expect", max_length=400)
    can_wait = models.BooleanField("can be done later", default=True)
    price_now = models.DecimalField(max_digits=9, decimal_places=2, null=True, blank=True, validators=MONEY)
    price_later = models.DecimalField(max_digits=9, decimal_places=2, null=True, blank=True, validators=MONEY)
    approval = models.ForeignKey("offers.Approval", on_delete=models.PROTECT, null=True, related_name="left")
    answer = models.ForeignKey(
        "offers.ChangeAnswer", on_delete=models.PROTECT, null=True, related_name="left"
    )
    entered_by = models.ForeignKey("people.Person", on_delete=models.PROTECT, null=True, related_name="+")
    # Mended after all: the decision stays on record and no longer holds.
    ended_at = models.DateTimeField(null=True, blank=True, editable=False)
    ended_why = models.CharField(max_length=200, blank=True)

    class Meta:
        ordering = ["finding", "pk"]
        verbose_name_plural = "left as found"
        constraints = [
            models.UniqueConstraint(
                fields=["finding"], condition=Q(ended_at=None), name="a_finding_is_left_once_at_a_time"
            )
        ]

    def __str__(self) -> str:
        return f"{self.finding} left: {self.get_reason_display()}"


class Handover(models.Model):
    """The report with which an instrument goes home. Frozen once handed over."""

    instrument = models.ForeignKey(
        "instruments.Instrument", on_delete=models.PROTECT, related_name="handovers"
    )
    number = models.PositiveSmallIntegerField(editable=False)
    checks = models.JSONField("final check list", default=list)
    checked_by = models.ForeignKey("people.Person", on_delete=models.PROTECT, null=True, related_name="+")
    checked_at = models.DateTimeField(null=True, editable=False)
    words = models.TextField("to the customer", max_length=2000, blank=True)
    materials = models.TextField("for the next technician", max_length=2000, blank=True)
    old_parts = models.TextField("old parts given back", max_length=500, blank=True)
    care = models.TextField(max_length=3000, blank=True)
    tunings = models.TextField("tuning plan", max_length=500, blank=True)
    warranty = models.TextField(max_length=2000, blank=True)
    edition = models.PositiveIntegerField(default=1, editable=False)
    frozen = models.JSONField(null=True, editable=False)
    fingerprint = models.CharField(max_length=64, blank=True, editable=False)
    handed_over_at = models.DateTimeField(null=True, editable=False)
    handed_over_by = models.ForeignKey(
        "people.Person", on_delete=models.PROTECT, null=True, related_name="+", editable=False
    )
    # Whose the piano was then: what was said to one owner is no business of the next.
    customer = models.ForeignKey(
        "customers.Customer", on_delete=models.PROTECT, null=True, related_name="+", editable=False
    )
    received_by = models.CharField("who took it over", max_length=80, blank=True)
    made_at = models.DateTimeField(default=clock.now, editable=False)

    class Meta:
        ordering = ["instrument", "number"]
        constraints = [
            models.UniqueConstraint(fields=["instrument", "number"], name="handovers_are_numbered"),
            models.UniqueConstraint(
                fields=["instrument"], condition=Q(handed_over_at=None), name="one_handover_is_being_written"
            ),
            models.CheckConstraint(
                condition=Q(handed_over_at=None) | ~Q(fingerprint=""),
                name="what_was_handed_over_has_a_fingerprint",
            ),
        ]

    def __str__(self) -> str:
        return f"handover {self.instrument.number}/{self.number}"
