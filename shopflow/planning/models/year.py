from __future__ import annotations

from django.core.validators import MaxValueValidator, MinValueValidator
from django.db import models


class AnnualTarget(models.Model):
    """How many instruments the shop means to finish in a calendar year."""

    year = models.PositiveSmallIntegerField(
        unique=True, validators=[MinValueValidator(2000), MaxValueValidator(2100)]
    )
    instruments = models.PositiveSmallIntegerField(validators=[MinValueValidator(1), MaxValueValidator(5000)])

    class Meta:
        ordering = ["year"]

    def __str__(self) -> str:
        return f"{self.instruments} in {self.year}"


class ClosedDay(models.Model):
    """A day on which the whole shop is closed, besides the weekdays on which nobody works."""

    day = models.DateField(unique=True)
    name = models.CharField(max_length=60, blank=True)

    class Meta:
        ordering = ["day"]

    def __str__(self) -> str:
        return f"{self.day}: {self.name}" if self.name else str(self.day)
