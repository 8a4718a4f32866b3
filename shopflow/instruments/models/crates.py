"""Crates: numbered containers of one instrument's parts, and the ledger of what went in, out and back."""

from __future__ import annotations

from django.core.validators import MaxValueValidator, MinValueValidator
from django.db import models
from django.db.models import F, Q
from django.urls import reverse

from shopflow.common import clock
from shopflow.common.ledger import AddedOnly, LedgerLine

from ..querysets import CrateQuerySet
from .instrument import Instrument

MOST_PARTS = 999
BIGGEST_NUMBER = 99_999


class Crate(models.Model):
    """One container with a tag. Its number is the shop's, never used again for another one.

    `place`, `department` and `state` are a projection of its moves.
    """

    class State(models.TextChoices):
        PACKED = "packed", "packed"
        OPEN = "open", "open on a bench"
        EMPTIED = "emptied", "emptied"

    number = models.PositiveIntegerField(
        unique=True, validators=[MinValueValidator(1), MaxValueValidator(BIGGEST_NUMBER)]
    )
    instrument = models.ForeignKey(Instrument, on_delete=models.PROTECT, related_name="crates")
    set_name = models.CharField("what kind of parts", max_length=40)
    place = models.CharField(max_length=60, blank=True, editable=False)
    department = models.ForeignKey(
        "catalogue.Department",
        on_delete=models.PROTECT,
        null=True,
        blank=True,
        related_name="crates",
        editable=False,
    )
    state = models.CharField(max_length=8, choices=State.choices, default=State.PACKED, editable=False)
    by = models.ForeignKey("people.Person", on_delete=models.PROTECT, related_name="+", editable=False)
    at = models.DateTimeField(default=clock.now, editable=False)

    objects = CrateQuerySet.as_manager()

    class Meta:
        ordering = ["number"]

    def __str__(self) -> str:
        return f"crate {self.number}"

    def get_absolute_url(self) -> str:
        return reverse("instruments:crate", args=[self.number])


class CrateLine(models.Model):
    """Parts of one kind in a crate. The three numbers are a projection of the crate's moves."""

    crate = models.ForeignKey(Crate, on_delete=models.PROTECT, related_name="lines")
    name = models.CharField("part", max_length=60)
    note = models.CharField(max_length=200, blank=True)
    count = models.PositiveSmallIntegerField("how many belong here", default=0)
    away = models.PositiveSmallIntegerField("counted out and not back yet", default=0)
    missing = models.PositiveSmallIntegerField("looked for and not there", default=0)

    class Meta:
        ordering = ["crate", "pk"]
        constraints = [
            models.CheckConstraint(
                condition=Q(count__gte=F("away") + F("missing")), name="no_more_is_gone_than_was_there"
            )
        ]

    def __str__(self) -> str:
        return f"{self.count} × {self.name}"

    @property
    def here(self) -> int:
        """How many lie in the crate now."""
        return self.count - self.away - self.missing

    @property
    def gone(self) -> int:
        return self.away + self.missing


class CrateMove(LedgerLine):
    """One act with a crate: who, when, with whom where two names are asked, and from which tablet."""

    class Kind(models.TextChoices):
        PACKED = "packed", "packed"
        MOVED = "moved", "moved"
        OUT = "out", "counted out"
        IN = "in", "counted in"
        COUNTED = "counted", "counted over"
        RIGHT = "right", "put right"
        OPENED = "opened", "opened"
        EMPTIED = "emptied", "emptied"

    crate = models.ForeignKey(Crate, on_delete=models.PROTECT, related_name="moves")
    kind = models.CharField(max_length=8, choices=Kind.choices)
    place = models.CharField("where to", max_length=60, blank=True)
    department = models.ForeignKey(
        "catalogue.Department", on_delete=models.PROTECT, null=True, blank=True, related_name="+"
    )
    rest_follows = models.BooleanField("what is not back is still there", default=False)
    reason = models.CharField(max_length=300, blank=True)
    by = models.ForeignKey("people.Person", on_delete=models.PROTECT, related_name="+")
    second = models.ForeignKey(
        "people.Person", on_delete=models.PROTECT, null=True, blank=True, related_name="+"
    )
    second_outside = models.CharField("or someone outside", max_length=80, blank=True)
    tablet = models.ForeignKey(
        "people.Tablet", on_delete=models.PROTECT, null=True, blank=True, related_name="+"
    )
    tapped_at = models.DateTimeField("by the device's clock")
    recorded_at = models.DateTimeField("by the server's clock", default=clock.now)
    client = models.CharField("the tablet, or the person at a desk", max_length=20)
    key = models.CharField("the tap's key", max_length=64)
    body = models.CharField("mark of what the tap asked for", max_length=64)

    objects = AddedOnly.as_manager()

    class Meta:
        ordering = ["pk"]
        constraints = [
            models.UniqueConstraint(fields=["client", "key", "crate"], name="one_crate_move_per_tap"),
            models.CheckConstraint(
                condition=~Q(kind__in=["out", "in"]) | Q(second__isnull=False) | ~Q(second_outside=""),
                name="out_and_in_are_signed_by_two",
            ),
            models.CheckConstraint(
                condition=Q(second__isnull=True) | ~Q(second=F("by")), name="two_names_are_two_people"
            ),
        ]

    def __str__(self) -> str:
        return f"{self.crate} {self.get_kind_display()}"

    @property
    def second_name(self) -> str:
        return self.second.name if self.second else self.second_outside


class CrateCount(LedgerLine):
    """What one act counted of one kind of part, and how many it should have been."""

    move = models.ForeignKey(CrateMove, on_delete=models.PROTECT, related_name="counts")
    line = models.ForeignKey(CrateLine, on_delete=models.PROTECT, related_name="counts")
    count = models.PositiveSmallIntegerField()
    expected = models.PositiveSmallIntegerField()

    objects = AddedOnly.as_manager()

    class Meta:
        ordering = ["pk"]
        constraints = [models.UniqueConstraint(fields=["move", "line"], name="one_count_per_part_and_move")]

    def __str__(self) -> str:
        return f"{self.count} of {self.expected} {self.line.name}"

    @property
    def lacking(self) -> int:
        return max(0, self.expected - self.count)
