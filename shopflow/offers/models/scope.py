"""What the estimator is weighing for one instrument: a budget, wishes, and the set that came out."""

from __future__ import annotations

from django.db import models

from shopflow.catalogue.models.work import MONEY
from shopflow.common import clock


class Scope(models.Model):
    """A scope that was worked out and kept; offers are made from it.

    `wishes` {"insist": [choice ids], "refuse": [...]}, `chosen` [choice ids]: ids as in selectors/scope.py.
    """

    instrument = models.ForeignKey("instruments.Instrument", on_delete=models.PROTECT, related_name="scopes")
    name = models.CharField(max_length=80, blank=True)
    budget = models.DecimalField(max_digits=9, decimal_places=2, validators=MONEY)
    wishes = models.JSONField(default=dict)
    chosen = models.JSONField(default=list)
    # Codes of all the work in it; empty for scopes that were kept before this was written down.
    work = models.JSONField(default=list)
    is_proven = models.BooleanField(default=True)
    made_by = models.ForeignKey("people.Person", on_delete=models.PROTECT, related_name="+")
    made_at = models.DateTimeField(default=clock.now, editable=False)

    class Meta:
        ordering = ["-made_at", "-pk"]

    def __str__(self) -> str:
        return f"{self.name or 'a scope'}, for {self.budget:,.0f}"
