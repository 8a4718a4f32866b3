"""How the keys of an instrument play: weights read at each key, and what its action is regulated to."""

from __future__ import annotations

from django.core.validators import MaxValueValidator, MinValueValidator
from django.db import models
from django.db.models import F, Q

from shopflow.common import clock

from .sheet import Phase

NOTE = [MinValueValidator(1), MaxValueValidator(88)]


class KeyWeight(models.Model):
    """Down and up weight of one key. A key read again gets a new row; the older one is struck, not lost."""

    instrument = models.ForeignKey(
        "instruments.Instrument", on_delete=models.PROTECT, related_name="key_weights"
    )
    phase = models.CharField(max_length=6, choices=Phase.choices, default=Phase.BEFORE)
    note = models.PositiveSmallIntegerField(validators=NOTE)
    down_g = models.FloatField(validators=[MinValueValidator(0), MaxValueValidator(1000)])
    up_g = models.FloatField(validators=[MinValueValidator(0), MaxValueValidator(1000)])
    typed = models.CharField("as typed", max_length=40, blank=True)
    measured_again = models.BooleanField("unlikely, kept after a yes", default=False)
    by = models.ForeignKey("people.Person", on_delete=models.PROTECT, related_name="+", editable=False)
    at = models.DateTimeField(default=clock.now, editable=False)
    struck_at = models.DateTimeField(null=True, blank=True, editable=False)

    class Meta:
        ordering = ["instrument", "phase", "note", "pk"]
        constraints = [
            models.UniqueConstraint(
                fields=["instrument", "phase", "note"],
                condition=Q(struck_at__isnull=True),
                name="one_weight_of_a_key_stands_per_phase",
            ),
            models.CheckConstraint(
                condition=Q(up_g__lte=F("down_g")), name="a_key_lifts_no_more_than_takes_it_down"
            ),
        ]

    def __str__(self) -> str:
        return f"key {self.note}, {self.phase}: {self.down_g:g} down, {self.up_g:g} up"


class RegulatingValue(models.Model):
    """What one dimension of this instrument's action is regulated to, from bass to treble."""

    instrument = models.ForeignKey(
        "instruments.Instrument", on_delete=models.PROTECT, related_name="regulating_values"
    )
    code = models.SlugField(max_length=20)
    name = models.CharField(max_length=60)
    bass_mm = models.FloatField("at note 1, mm", validators=[MinValueValidator(0), MaxValueValidator(100)])
    treble_mm = models.FloatField("at note 88, mm", validators=[MinValueValidator(0), MaxValueValidator(100)])
    tolerance_mm = models.FloatField(
        "may be off by, mm", validators=[MinValueValidator(0), MaxValueValidator(20)]
    )
    basis = models.CharField("where it comes from", max_length=120, blank=True)
    position = models.PositiveSmallIntegerField(default=0)
    version = models.PositiveIntegerField(default=1, editable=False)

    class Meta:
        ordering = ["instrument", "position", "pk"]
        constraints = [models.UniqueConstraint(fields=["instrument", "code"], name="a_regulating_value_once")]

    def __str__(self) -> str:
        return f"{self.name} of {self.instrument_id}"

    def at_note(self, note: int) -> float:
        """The aim at this note, on a straight line from bass to treble."""
        return self.bass_mm + (self.treble_mm - self.bass_mm) * (note - 1) / 87


class RegulatingSample(models.Model):
    """One dimension read at one sample note."""

    value = models.ForeignKey(RegulatingValue, on_delete=models.PROTECT, related_name="samples")
    phase = models.CharField(max_length=6, choices=Phase.choices, default=Phase.BEFORE)
    note = models.PositiveSmallIntegerField(validators=NOTE)
    read_mm = models.FloatField(validators=[MinValueValidator(-20), MaxValueValidator(200)])
    by = models.ForeignKey("people.Person", on_delete=models.PROTECT, related_name="+", editable=False)
    at = models.DateTimeField(default=clock.now, editable=False)
    struck_at = models.DateTimeField(null=True, blank=True, editable=False)

    class Meta:
        ordering = ["value", "phase", "note", "pk"]
        constraints = [
            models.UniqueConstraint(
                fields=["value", "phase", "note"],
                condition=Q(struck_at__isnull=True),
                name="one_sample_of_a_note_stands_per_phase",
            )
        ]

    def __str__(self) -> str:
        return f"{self.value_id} at note {self.note}: {self.read_mm:g} mm"
