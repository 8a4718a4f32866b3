"""The shop itself and its work: departments, stages, operations, routes, cautions."""

from __future__ import annotations

from decimal import Decimal
from uuid import uuid4
from zoneinfo import ZoneInfo

from django.core.validators import MaxValueValidator, MinValueValidator
from django.db import models
from django.db.models import Q

from ..querysets import CodedManager, InUseQuerySet, StageManager

MONEY = [MinValueValidator(0), MaxValueValidator(Decimal(99_999))]


def fresh_version() -> str:
    """A mark that no catalogue bore before, so that one taken back is never mistaken for a later one."""
    return uuid4().hex


class Kind(models.TextChoices):
    """What an instrument is built like; hours differ by it."""

    UPRIGHT = "upright", "upright"
    GRAND = "grand", "grand"


class Units(models.TextChoices):
    METRIC = "metric", "millimetres, grams, °C"
    INCH = "inch", "inches, pounds, °F"


class Shop(models.Model):
    """The shop itself: one row."""

    name = models.CharField(max_length=80)
    town = models.CharField(max_length=80, blank=True)
    address = models.TextField(max_length=400, blank=True)
    time_zone = models.CharField(max_length=60, default="Europe/London")
    hands_on_share = models.DecimalField(
        "share of paid hours that are hands-on",
        max_digits=3,
        decimal_places=2,
        default=Decimal("0.70"),
        validators=[MinValueValidator(Decimal("0.10")), MaxValueValidator(Decimal("1.00"))],
        help_text="0.60 to 0.75 is common practice, no source",
    )
    report_readers = models.TextField(
        "weekly report goes to",
        max_length=600,
        blank=True,
        help_text="one e-mail address a line; empty: everybody who is owner or manager",
    )
    units = models.CharField(
        "readings are typed and shown in", max_length=6, choices=Units.choices, default=Units.METRIC
    )
    is_demo = models.BooleanField(default=False, editable=False)
    # Changes with every change of the catalogue: what is kept in memory of it bears this mark.
    catalogue_version = models.CharField(max_length=32, default=fresh_version, editable=False)

    class Meta:
        constraints = [models.CheckConstraint(condition=Q(pk=1), name="there_is_one_shop")]

    def __str__(self) -> str:
        return self.name

    @property
    def zone(self) -> ZoneInfo:
        return ZoneInfo(self.time_zone)


class Department(models.Model):
    code = models.SlugField(max_length=30, unique=True)
    name = models.CharField(max_length=40)
    mark = models.CharField("two-letter mark", max_length=2)
    material = models.SlugField(
        max_length=20, blank=True, help_text="which material gives it pattern and colour"
    )
    rate = models.DecimalField(
        "what an hour costs the shop", max_digits=7, decimal_places=2, default=Decimal(0), validators=MONEY
    )
    position = models.PositiveSmallIntegerField(default=0)
    retired_at = models.DateTimeField(null=True, blank=True, editable=False)

    objects = CodedManager.from_queryset(InUseQuerySet)()

    class Meta:
        ordering = ["position", "code"]

    def __str__(self) -> str:
        return self.name

    def natural_key(self) -> tuple[str]:
        return (self.code,)


class Stage(models.Model):
    class Kind(models.TextChoices):
        RACKED = "racked", "racked: on the rack, waiting"
        BENCHED = "benched", "benched: hands on it"
        RESTING = "resting", "resting: curing, drying or settling"
        PROVING = "proving", "proving: checked by a second pair of eyes"
        SIGNED = "signed", "signed: passed on"

    department = models.ForeignKey(Department, on_delete=models.PROTECT, related_name="stages")
    code = models.SlugField(max_length=30)
    name = models.CharField(max_length=40)
    kind = models.CharField(max_length=8, choices=Kind.choices)
    position = models.PositiveSmallIntegerField(default=0)
    needs_photo = models.BooleanField("a photo before it can be left", default=False)
    needs_reading = models.BooleanField("a reading on its bench sheet before it can be left", default=False)
    needs_second_eyes = models.BooleanField(
        "signed only by someone other than the one who did the work", default=False
    )
    cautions = models.ManyToManyField("catalogue.Caution", related_name="stages", blank=True)
    retired_at = models.DateTimeField(null=True, blank=True, editable=False)

    objects = StageManager.from_queryset(InUseQuerySet)()

    class Meta:
        ordering = ["department__position", "position", "pk"]
        constraints = [
            models.UniqueConstraint(fields=["department", "code"], name="stage_code_once_per_department"),
            models.CheckConstraint(
                condition=Q(kind__in=["racked", "benched", "resting", "proving", "signed"]),
                name="stage_is_one_of_five_kinds",
            ),
        ]

    def __str__(self) -> str:
        return self.name

    def natural_key(self) -> tuple[str, str]:
        return (self.department.code, self.code)

    natural_key.dependencies = ["catalogue.department"]  # type: ignore[attr-defined]


class Rest(models.Model):
    """Calendar time in which nobody works but the job may not go on."""

    code = models.SlugField(max_length=20, unique=True)
    name = models.CharField(max_length=60)
    hours_low = models.DecimalField(max_digits=6, decimal_places=1)
    hours_likely = models.DecimalField(max_digits=6, decimal_places=1)
    hours_high = models.DecimalField(max_digits=6, decimal_places=1)
    basis = models.CharField(max_length=200, help_text="where the figure comes from")

    objects = CodedManager()

    class Meta:
        ordering = ["code"]

    def __str__(self) -> str:
        return self.name

    def natural_key(self) -> tuple[str]:
        return (self.code,)


class Caution(models.Model):
    """What may hurt someone, in the shop's words; always a reminder, never training."""

    code = models.SlugField(max_length=30, unique=True)
    title = models.CharField(max_length=60)
    text = models.TextField(max_length=1200)
    figures = models.TextField(max_length=600, blank=True)

    objects = CodedManager()

    class Meta:
        ordering = ["code"]

    def __str__(self) -> str:
        return self.title

    def natural_key(self) -> tuple[str]:
        return (self.code,)


class SheetKind(models.TextChoices):
    """The bench sheets there are; an operation that names one is done with it at hand."""

    STRINGS = "strings", "strings"
    SOUNDBOARD = "soundboard", "soundboard"
    ACTION = "action", "action"
    FINISHING = "finishing", "finishing"
    PLATING = "plating", "plating"
    LIFTING = "lifting", "lifting"


class Operation(models.Model):
    """One kind of work, with its hours for uprights and grands and the stages of its department it uses."""

    code = models.SlugField(max_length=30, unique=True)
    department = models.ForeignKey(Department, on_delete=models.PROTECT, related_name="operations")
    name = models.CharField(max_length=80)
    what = models.TextField("what is done", max_length=400, blank=True)
    upright_low = models.DecimalField(max_digits=5, decimal_places=1, null=True, blank=True)
    upright_likely = models.DecimalField(max_digits=5, decimal_places=1, null=True, blank=True)
    upright_high = models.DecimalField(max_digits=5, decimal_places=1, null=True, blank=True)
    grand_low = models.DecimalField(max_digits=5, decimal_places=1, null=True, blank=True)
    grand_likely = models.DecimalField(max_digits=5, decimal_places=1, null=True, blank=True)
    grand_high = models.DecimalField(max_digits=5, decimal_places=1, null=True, blank=True)
    hours_basis = models.CharField(
        max_length=120, default="planning figure: common practice, no source", blank=True
    )
    materials = models.CharField(max_length=2, blank=True, help_text="M0 to M5, a band of cost")
    rest = models.ForeignKey(Rest, on_delete=models.PROTECT, null=True, blank=True)
    if_left = models.TextField("if it is left", max_length=400, blank=True)
    evidence = models.TextField("what to record", max_length=400, blank=True)
    at_the_owners = models.BooleanField("done at the owner's, after the instrument has left", default=False)
    sheet = models.CharField("bench sheet", max_length=12, choices=SheetKind.choices, blank=True)
    outside_cost = models.DecimalField(
        "what outside work costs the shop",
        max_digits=8,
        decimal_places=2,
        default=Decimal(0),
        validators=MONEY,
    )
    in_every_job = models.BooleanField("part of every job", default=False)
    # What it holds, needs, opens, leaves, spoils, keeps and renews (compute/worknet reads it).
    state = models.JSONField(default=dict, blank=True)
    state_to_look_at = models.BooleanField(
        "a person has yet to say what it needs and leaves", default=False, editable=False
    )
    state_note = models.TextField("what to look at in its state", blank=True, editable=False)
    stages = models.ManyToManyField(Stage, related_name="operations")
    cautions = models.ManyToManyField(Caution, related_name="operations", blank=True)
    retired_at = models.DateTimeField(null=True, blank=True, editable=False)

    objects = CodedManager.from_queryset(InUseQuerySet)()

    class Meta:
        ordering = ["department__position", "pk"]

    def __str__(self) -> str:
        return self.name

    def natural_key(self) -> tuple[str]:
        return (self.code,)

    natural_key.dependencies = [  # type: ignore[attr-defined]
        "catalogue.department",
        "catalogue.stage",
        "catalogue.rest",
        "catalogue.caution",
    ]

    def hours_for(self, kind: str) -> tuple[Decimal, Decimal, Decimal] | None:
        """Low, likely and high hands-on hours for this kind of instrument; None where it does not apply."""
        side = "grand" if kind == Kind.GRAND else "upright"
        low, likely, high = (getattr(self, f"{side}_{step}") for step in ("low", "likely", "high"))
        return None if likely is None else (low, likely, high)


class Route(models.Model):
    """A usual way through the shop: which operations, in which order of mention."""

    code = models.SlugField(max_length=10, unique=True)
    name = models.CharField(max_length=80)
    kind = models.CharField(max_length=8, choices=Kind.choices)
    note = models.TextField(max_length=600, blank=True)
    weeks_low = models.PositiveSmallIntegerField(null=True, blank=True)
    weeks_likely = models.PositiveSmallIntegerField(null=True, blank=True)
    weeks_high = models.PositiveSmallIntegerField(null=True, blank=True)
    position = models.PositiveSmallIntegerField(default=0)
    retired_at = models.DateTimeField(null=True, blank=True, editable=False)

    objects = CodedManager.from_queryset(InUseQuerySet)()

    class Meta:
        ordering = ["position", "code"]

    def __str__(self) -> str:
        return self.name

    def natural_key(self) -> tuple[str]:
        return (self.code,)


class RouteStep(models.Model):
    route = models.ForeignKey(Route, on_delete=models.CASCADE, related_name="steps")
    operation = models.ForeignKey(Operation, on_delete=models.PROTECT, related_name="+")
    position = models.PositiveSmallIntegerField()

    class Meta:
        ordering = ["position"]
        constraints = [
            models.UniqueConstraint(fields=["route", "operation"], name="operation_once_per_route")
        ]

    def __str__(self) -> str:
        return f"{self.route.code} {self.position}: {self.operation.code}"
