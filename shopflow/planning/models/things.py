"""Things that the plan has to respect besides hands."""

from __future__ import annotations

from decimal import Decimal

from django.core.validators import MaxValueValidator, MinValueValidator
from django.db import models
from django.db.models import Q

from shopflow.catalogue.models import Kind


class ScarceThing(models.Model):
    """Something of which there are few, that some operations need while hands are on them."""

    code = models.SlugField(max_length=30, unique=True)
    name = models.CharField(max_length=60)
    count = models.PositiveSmallIntegerField(
        default=1, validators=[MinValueValidator(1), MaxValueValidator(100)]
    )
    operations = models.ManyToManyField("catalogue.Operation", related_name="scarce_things", blank=True)

    class Meta:
        ordering = ["name"]
        constraints = [
            models.CheckConstraint(condition=Q(count__gte=1), name="a_scarce_thing_is_there_at_all")
        ]

    def __str__(self) -> str:
        return self.name


class PartOnOrder(models.Model):
    """Something from outside without which a task cannot go on."""

    task = models.ForeignKey("workshop.Task", on_delete=models.CASCADE, related_name="parts_on_order")
    what = models.CharField(max_length=120)
    ordered_on = models.DateField()
    expected_on = models.DateField()
    arrived_on = models.DateField(null=True, blank=True)

    class Meta:
        ordering = ["expected_on", "pk"]
        verbose_name_plural = "parts on order"

    def __str__(self) -> str:
        return f"{self.what} for {self.task}"


class Hold(models.Model):
    """The manager holds an instrument back: nothing new of it is begun before a day."""

    instrument = models.OneToOneField("instruments.Instrument", on_delete=models.CASCADE, related_name="hold")
    until = models.DateField()
    reason = models.CharField(max_length=200, blank=True)

    def __str__(self) -> str:
        return f"{self.instrument} held until {self.until}"


class KindSize(models.Model):
    """How much one finished instrument of this kind counts toward the year; 1 unless the shop says so."""

    kind = models.CharField(max_length=8, choices=Kind.choices, unique=True)
    size = models.DecimalField(
        max_digits=4,
        decimal_places=2,
        default=Decimal(1),
        validators=[MinValueValidator(Decimal("0.05")), MaxValueValidator(Decimal(10))],
    )

    class Meta:
        ordering = ["kind"]

    def __str__(self) -> str:
        return f"{self.get_kind_display()} counts {self.size}"
