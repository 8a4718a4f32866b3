"""What the shop charges and on which terms it works."""

from __future__ import annotations

from decimal import Decimal

from django.core.validators import MaxValueValidator, MinValueValidator
from django.db import models
from django.db.models import Q

from ..querysets import CodedManager
from .work import MONEY

PERCENT = [MinValueValidator(0), MaxValueValidator(100)]
WEIGHT = [MinValueValidator(0), MaxValueValidator(10)]


class MaterialBand(models.Model):
    """A band of what the materials of an operation cost: M0 to M5."""

    code = models.CharField(max_length=2, unique=True)
    low = models.DecimalField(max_digits=8, decimal_places=2, validators=MONEY)
    likely = models.DecimalField(max_digits=8, decimal_places=2, validators=MONEY)
    high = models.DecimalField(max_digits=8, decimal_places=2, validators=MONEY)
    basis = models.CharField(
        max_length=120, default="planning figure: common practice, no source", blank=True
    )

    objects = CodedManager()

    class Meta:
        ordering = ["code"]
        constraints = [
            models.CheckConstraint(
                condition=Q(low__lte=models.F("likely")) & Q(likely__lte=models.F("high")),
                name="material_low_likely_high_in_order",
            )
        ]

    def __str__(self) -> str:
        return self.code

    def natural_key(self) -> tuple[str]:
        return (self.code,)


class Terms(models.Model):
    """How the shop prices and what it promises with a price: one row."""

    class Surprise(models.TextChoices):
        """What happens when teardown finds something that nobody could see before."""

        ASK = "ask", "we ask before every extra"
        UP_TO = "up-to", "up to a share of the price we do what is needed, beyond it we ask"
        FIXED = "fixed", "the price is fixed, the shop carries surprises"

    currency = models.CharField("sign of the money", max_length=4, default="£")
    margin_percent = models.DecimalField(
        "margin on top of cost, %",
        max_digits=5,
        decimal_places=2,
        default=Decimal(25),
        validators=[MinValueValidator(0), MaxValueValidator(300)],
    )
    round_to = models.PositiveSmallIntegerField("prices are rounded up to whole", default=10)
    deposit_percent = models.PositiveSmallIntegerField("deposit, %", default=30, validators=PERCENT)
    holds_days = models.PositiveSmallIntegerField("a price holds for, days", default=30)
    surprise = models.CharField(max_length=5, choices=Surprise.choices, default=Surprise.ASK)
    surprise_percent = models.PositiveSmallIntegerField(
        "extras without asking, up to, %", default=10, validators=PERCENT
    )
    decide_days = models.PositiveSmallIntegerField("time to decide on a surprise, days", default=7)
    weighs_safety = models.PositiveSmallIntegerField("safety", default=5, validators=WEIGHT)
    weighs_playing = models.PositiveSmallIntegerField("playing", default=3, validators=WEIGHT)
    weighs_tone = models.PositiveSmallIntegerField("tone", default=3, validators=WEIGHT)
    weighs_looks = models.PositiveSmallIntegerField("looks", default=1, validators=WEIGHT)
    weighs_durability = models.PositiveSmallIntegerField("durability", default=2, validators=WEIGHT)
    warranty = models.TextField("warranty, in the shop's words", max_length=2000, blank=True)
    care = models.TextField("care at home, in the shop's words", max_length=3000, blank=True)
    letter_foot = models.CharField("at the foot of offers and reports", max_length=200, blank=True)

    class Meta:
        verbose_name_plural = "terms"
        constraints = [models.CheckConstraint(condition=Q(pk=1), name="there_is_one_set_of_terms")]

    def __str__(self) -> str:
        return "Terms"
