"""The belly of an instrument: bearing of each section on its bridge, crown under a thread."""

from __future__ import annotations

from django.core.validators import MaxValueValidator, MinValueValidator
from django.db import models
from django.db.models import Q

from shopflow.common import clock

from .sheet import Phase


class BearingReading(models.Model):
    """Front and back bearing read at one place. Read again: a new row, the older one is struck, not lost.

    Nobody who knows gives a pass mark for bearing, so none is kept here.
    """

    instrument = models.ForeignKey(
        "instruments.Instrument", on_delete=models.PROTECT, related_name="bearings"
    )
    phase = models.CharField(max_length=6, choices=Phase.choices, default=Phase.BEFORE)
    section = models.CharField(max_length=20)
    front_mm = models.FloatField(validators=[MinValueValidator(-100), MaxValueValidator(100)])
    front_over_mm = models.FloatField(validators=[MinValueValidator(1), MaxValueValidator(3000)])
    back_mm = models.FloatField(validators=[MinValueValidator(-100), MaxValueValidator(100)])
    back_over_mm = models.FloatField(validators=[MinValueValidator(1), MaxValueValidator(3000)])
    typed = models.CharField("as typed", max_length=80, blank=True)
    measured_again = models.BooleanField("unlikely, kept after a yes", default=False)
    by = models.ForeignKey("people.Person", on_delete=models.PROTECT, related_name="+", editable=False)
    at = models.DateTimeField(default=clock.now, editable=False)
    struck_at = models.DateTimeField(null=True, blank=True, editable=False)

    class Meta:
        ordering = ["instrument", "phase", "pk"]
        constraints = [
            models.UniqueConstraint(
                fields=["instrument", "phase", "section"],
                condition=Q(struck_at__isnull=True),
                name="one_bearing_of_a_section_stands_per_phase",
            )
        ]

    def __str__(self) -> str:
        return f"bearing of {self.section}, {self.phase}"
