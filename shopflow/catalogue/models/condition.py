"""What can be found wrong with a piano, what can be done about it, and what is read with which gauge."""

from __future__ import annotations

from decimal import Decimal

from django.core.validators import MaxValueValidator, MinValueValidator
from django.db import models
from django.db.models import Q

from ..querysets import CodedManager, InUseQuerySet
from .work import Kind, Operation

BUILDS = Kind.choices
# How much a finding of this kind touches one side of an instrument: 0 not at all, 3 wholly.
TOUCHES = [MinValueValidator(0), MaxValueValidator(3)]


class ComponentGroup(models.Model):
    """One part of the instrument that a survey looks at by itself: case, plate, strings ..."""

    code = models.SlugField(max_length=20, unique=True)
    name = models.CharField(max_length=40)
    position = models.PositiveSmallIntegerField(default=0)
    fails = models.TextField("what commonly fails", max_length=400, blank=True)
    upright = models.TextField("how an upright is built here", max_length=300, blank=True)
    grand = models.TextField("how a grand is built here", max_length=300, blank=True)
    inspect = models.TextField("how it is inspected", max_length=400, blank=True)

    objects = CodedManager()

    class Meta:
        ordering = ["position", "code"]

    def __str__(self) -> str:
        return self.name

    def natural_key(self) -> tuple[str]:
        return (self.code,)


class FindingKind(models.Model):
    """A kind of finding from the library: what it is, how it is seen, and what it does if it is left."""

    class Stops(models.TextChoices):
        SAFE = "safe", "standing, moving and touching it safely"
        PITCH = "pitch", "bringing it to pitch"
        PLAYED = "played", "playing it"
        TUNED = "tuned", "keeping it in tune"

    code = models.SlugField(max_length=10, unique=True)
    group = models.ForeignKey(ComponentGroup, on_delete=models.PROTECT, related_name="finding_kinds")
    name = models.CharField(max_length=120)
    plain_words = models.CharField("for the customer", max_length=300, blank=True)
    how_seen = models.CharField("how it is seen, which reading", max_length=300, blank=True)
    severity_cue = models.CharField(max_length=120, blank=True)
    usual_severity = models.PositiveSmallIntegerField(
        default=2, validators=[MinValueValidator(0), MaxValueValidator(4)]
    )
    if_left = models.CharField("what to expect if it is left", max_length=400, blank=True)
    only_for = models.CharField("only found in", max_length=8, choices=Kind.choices, blank=True)
    safety = models.PositiveSmallIntegerField(default=0, validators=TOUCHES)
    playing = models.PositiveSmallIntegerField(default=0, validators=TOUCHES)
    tone = models.PositiveSmallIntegerField(default=0, validators=TOUCHES)
    looks = models.PositiveSmallIntegerField(default=0, validators=TOUCHES)
    durability = models.PositiveSmallIntegerField(default=0, validators=TOUCHES)
    basis = models.CharField(
        max_length=120, default="severity and weights: common practice, no source", blank=True
    )
    stops = models.CharField("what it stops", max_length=8, choices=Stops.choices, blank=True)
    forbids = models.ManyToManyField(
        Operation, related_name="forbidden_by", blank=True, verbose_name="never done where this is found"
    )
    position = models.PositiveSmallIntegerField(default=0)
    retired_at = models.DateTimeField(null=True, blank=True, editable=False)

    objects = CodedManager.from_queryset(InUseQuerySet)()

    class Meta:
        ordering = ["group__position", "position", "code"]

    def __str__(self) -> str:
        return self.name

    def natural_key(self) -> tuple[str]:
        return (self.code,)


class Remedy(models.Model):
    """One way to deal with a kind of finding: the operations that it takes, and how much of it is cured."""

    class Kind(models.TextChoices):
        REPAIR = "repair", "repair"
        REPLACE = "replace", "replace"

    code = models.SlugField(max_length=30, unique=True)
    finding_kind = models.ForeignKey(FindingKind, on_delete=models.CASCADE, related_name="remedies")
    name = models.CharField(max_length=120)
    kind = models.CharField(max_length=8, choices=Kind.choices, default=Kind.REPAIR)
    position = models.PositiveSmallIntegerField("lightest first", default=0)
    cures = models.PositiveSmallIntegerField(
        "share of the harm that is cured, %",
        default=100,
        validators=[MinValueValidator(1), MaxValueValidator(100)],
    )
    only_for = models.CharField("only for", max_length=8, choices=BUILDS, blank=True)
    note = models.CharField(max_length=300, blank=True)
    basis = models.CharField(
        max_length=120, default="share that is cured: common practice, no source", blank=True
    )
    operations = models.ManyToManyField(Operation, related_name="remedies")
    besides_grand = models.ManyToManyField(
        Operation, related_name="+", blank=True, verbose_name="in a grand also"
    )
    besides_upright = models.ManyToManyField(
        Operation, related_name="+", blank=True, verbose_name="in an upright also"
    )
    retired_at = models.DateTimeField(null=True, blank=True, editable=False)

    objects = CodedManager.from_queryset(InUseQuerySet)()

    class Meta:
        ordering = ["finding_kind", "position", "pk"]
        verbose_name_plural = "remedies"

    def __str__(self) -> str:
        return self.name

    def natural_key(self) -> tuple[str]:
        return (self.code,)


class ReadingKind(models.Model):
    """Something that is measured: its unit, what is usual, and what is beyond physical sense.

    Values are kept in `unit`. `inch_unit` is what an inch and pound shop types: value = typed × inch_factor
    + inch_offset. Where experts give no pass mark, the usual range stays empty: history then, no verdict.
    """

    code = models.SlugField(max_length=30, unique=True)
    group = models.ForeignKey(
        ComponentGroup, on_delete=models.PROTECT, null=True, blank=True, related_name="reading_kinds"
    )
    name = models.CharField(max_length=80)
    unit = models.CharField(max_length=12, blank=True)
    inch_unit = models.CharField(max_length=12, blank=True)
    inch_factor = models.DecimalField(max_digits=14, decimal_places=8, default=Decimal(1))
    inch_offset = models.DecimalField(max_digits=14, decimal_places=8, default=Decimal(0))
    decimals = models.PositiveSmallIntegerField(default=1, validators=[MaxValueValidator(4)])
    place = models.CharField("read where", max_length=80, blank=True, help_text="note, section, rib, room …")
    how = models.CharField("how and how many", max_length=300, blank=True)
    usual_low = models.DecimalField(max_digits=10, decimal_places=3, null=True, blank=True)
    usual_high = models.DecimalField(max_digits=10, decimal_places=3, null=True, blank=True)
    usual_words = models.CharField(max_length=200, blank=True)
    possible_low = models.DecimalField(max_digits=10, decimal_places=3, null=True, blank=True)
    possible_high = models.DecimalField(max_digits=10, decimal_places=3, null=True, blank=True)
    only_for = models.CharField("only for", max_length=8, choices=Kind.choices, blank=True)
    basis = models.CharField("where the usual range comes from", max_length=200, blank=True)
    position = models.PositiveSmallIntegerField(default=0)

    objects = CodedManager()

    class Meta:
        ordering = ["group__position", "position", "code"]
        constraints = [
            models.CheckConstraint(
                condition=Q(usual_low__isnull=True)
                | Q(usual_high__isnull=True)
                | Q(usual_low__lte=models.F("usual_high")),
                name="usual_low_not_above_usual_high",
            )
        ]

    def __str__(self) -> str:
        return self.name

    def natural_key(self) -> tuple[str]:
        return (self.code,)
