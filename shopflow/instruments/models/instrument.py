from __future__ import annotations

from django.core.validators import MaxValueValidator, MinValueValidator, RegexValidator
from django.db import models
from django.urls import reverse

from shopflow.catalogue.models import Kind
from shopflow.common import clock

from ..querysets import InstrumentQuerySet


class Instrument(models.Model):
    """A piano in the shop's care. Its number is the key on every tag, tray, bag and photo."""

    number = models.CharField(
        max_length=12,
        unique=True,
        validators=[RegexValidator(r"^[A-Za-z0-9][A-Za-z0-9\-]*$", "Letters, digits and hyphens only.")],
    )
    kind = models.CharField(max_length=8, choices=Kind.choices)
    maker = models.CharField(max_length=60, blank=True)
    serial = models.CharField(max_length=30, blank=True)
    year_built = models.PositiveSmallIntegerField(
        null=True, blank=True, validators=[MinValueValidator(1700), MaxValueValidator(2100)]
    )
    size_cm = models.PositiveSmallIntegerField(
        "height of an upright, length of a grand, in cm",
        null=True,
        blank=True,
        validators=[MinValueValidator(80), MaxValueValidator(320)],
    )
    finish = models.CharField(max_length=80, blank=True)
    alterations = models.TextField("alterations by earlier owners", max_length=2000, blank=True)
    fragile = models.TextField("fragile parts", max_length=500, blank=True)
    place = models.CharField("place in the house", max_length=60, blank=True)
    customer = models.ForeignKey(
        "customers.Customer", on_delete=models.PROTECT, null=True, blank=True, related_name="instruments"
    )
    route = models.ForeignKey(
        "catalogue.Route", on_delete=models.PROTECT, null=True, blank=True, related_name="+"
    )
    promised_on = models.DateField(null=True, blank=True)
    # The next four are projections of the passages in workshop, written with them and rebuilt from them.
    arrived_on = models.DateField(null=True, blank=True, editable=False)
    finished_on = models.DateField(null=True, blank=True, editable=False)
    handed_on = models.DateField("handed over on", null=True, blank=True, editable=False)
    left_on = models.DateField(null=True, blank=True, editable=False)
    # What the published plan says of it, written when that plan is put up.
    likely_by = models.DateField("finished by, in 4 of 5 runs of the plan", null=True, editable=False)
    promise_odds = models.FloatField("odds of the promised day", null=True, editable=False)
    version = models.PositiveIntegerField(default=1, editable=False)
    created_at = models.DateTimeField(default=clock.now, editable=False)

    objects = InstrumentQuerySet.as_manager()

    class Meta:
        ordering = ["number"]
        indexes = [models.Index(fields=["left_on", "number"], name="instruments_in_the_house")]

    def __str__(self) -> str:
        return self.number

    def get_absolute_url(self) -> str:
        return reverse("workshop:instrument", args=[self.number])

    @property
    def title(self) -> str:
        """What one would call it across the shop: "Bexcombe upright, 1904"."""
        named = " ".join(part for part in (self.maker, self.get_kind_display()) if part)
        return f"{named}, {self.year_built}" if self.year_built else named
