"""What goes out of the door although it is unsafe: who answers for it, and the customer's written word."""

from __future__ import annotations

from django.db import models
from django.db.models import Q

from shopflow.common import clock

from .survey import Finding


class LeftUnsafe(models.Model):
    """An unsafe finding that stays as it is: a named person's reason and the customer's written word.

    It answers for the finding as grave as it was then, and for that owner. Never changed, only ended.
    """

    finding = models.ForeignKey(Finding, on_delete=models.PROTECT, related_name="left_unsafe")
    severity = models.PositiveSmallIntegerField(editable=False)
    reason = models.CharField("why it stays as it is", max_length=400)
    word_by = models.CharField("who of the customer's side wrote", max_length=80)
    word_on = models.DateField("written on")
    word = models.CharField("what they wrote, and how", max_length=400)
    # Whose word it is: a later owner has given none.
    customer = models.ForeignKey(
        "customers.Customer", on_delete=models.PROTECT, null=True, related_name="+", editable=False
    )
    by = models.ForeignKey("people.Person", on_delete=models.PROTECT, related_name="+")
    at = models.DateTimeField(default=clock.now, editable=False)
    ended_at = models.DateTimeField(null=True, blank=True, editable=False)
    ended_by = models.ForeignKey(
        "people.Person", on_delete=models.PROTECT, null=True, blank=True, related_name="+", editable=False
    )
    ended_why = models.CharField(max_length=200, blank=True)

    class Meta:
        ordering = ["finding", "pk"]
        verbose_name_plural = "left unsafe"
        constraints = [
            models.UniqueConstraint(
                fields=["finding"], condition=Q(ended_at=None), name="one_answer_for_an_unsafe_finding"
            ),
            models.CheckConstraint(
                condition=~Q(reason="") & ~Q(word="") & ~Q(word_by=""),
                name="what_is_unsafe_is_answered_whole",
            ),
        ]

    def __str__(self) -> str:
        return f"{self.finding}, left unsafe"
