from __future__ import annotations

from django.db import models


class Pulse(models.Model):
    """One row, one number: it grows with every change a board shows, so that a tablet asks cheaply."""

    number = models.BigIntegerField(default=0)

    class Meta:
        constraints = [models.CheckConstraint(condition=models.Q(pk=1), name="pulse_has_one_row")]

    def __str__(self) -> str:
        return f"pulse {self.number}"
