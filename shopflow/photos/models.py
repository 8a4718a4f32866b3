from __future__ import annotations

import uuid

from django.core.validators import MaxValueValidator, MinValueValidator
from django.db import models
from django.db.models import Q

from shopflow.common import clock

from .querysets import PhotoMarkQuerySet, PhotoQuerySet

MOST_MARKS = 99


class Photo(models.Model):
    """One picture of an instrument. Only copies made by the shop are ever served, never the file sent."""

    class Role(models.TextChoices):
        FOUND = "found", "as found"
        BEFORE = "before", "before"
        DURING = "during", "during the work"
        AFTER = "after", "after"

    class State(models.TextChoices):
        WAITING = "waiting", "copies being made"
        READY = "ready", "ready"
        REFUSED = "refused", "refused"

    key = models.UUIDField(default=uuid.uuid4, unique=True, editable=False)
    instrument = models.ForeignKey(
        "instruments.Instrument", on_delete=models.PROTECT, related_name="photos", editable=False
    )
    role = models.CharField(max_length=8, choices=Role.choices, default=Role.DURING)
    caption = models.CharField(max_length=200, blank=True)
    finding = models.ForeignKey(
        "instruments.Finding", on_delete=models.PROTECT, null=True, blank=True, related_name="photos"
    )
    for_customer = models.BooleanField("chosen for the customer to see", default=False)
    state = models.CharField(max_length=8, choices=State.choices, default=State.WAITING, editable=False)
    refusal = models.CharField(max_length=200, blank=True, editable=False)
    original_name = models.CharField(max_length=255, blank=True, editable=False)
    width = models.PositiveIntegerField(default=0, editable=False)
    height = models.PositiveIntegerField(default=0, editable=False)
    added_by = models.ForeignKey("people.Person", on_delete=models.PROTECT, related_name="+", editable=False)
    added_at = models.DateTimeField(default=clock.now, editable=False)
    hidden_at = models.DateTimeField(null=True, blank=True, editable=False)
    hidden_by = models.ForeignKey(
        "people.Person", on_delete=models.PROTECT, null=True, blank=True, related_name="+", editable=False
    )
    hidden_reason = models.CharField("why it is put aside", max_length=300, blank=True, editable=False)

    objects = PhotoQuerySet.as_manager()

    class Meta:
        ordering = ["added_at", "pk"]

    def __str__(self) -> str:
        return self.caption or f"{self.get_role_display()}, {self.instrument.number}"


class PhotoMark(models.Model):
    """A numbered place on a photo: a crack, a rib, a part that lies there, or what is to be found again."""

    class Kind(models.TextChoices):
        CRACK = "crack", "crack"
        RIB = "rib", "rib"
        PART = "part", "part"
        OTHER = "other", "something else"

    photo = models.ForeignKey(Photo, on_delete=models.PROTECT, related_name="marks", editable=False)
    number = models.PositiveSmallIntegerField(
        validators=[MinValueValidator(1), MaxValueValidator(MOST_MARKS)]
    )
    kind = models.CharField(max_length=6, choices=Kind.choices)
    # Shares of the picture from its left and its top edge, so that every copy has its marks in place.
    x = models.FloatField(validators=[MinValueValidator(0), MaxValueValidator(1)])
    y = models.FloatField(validators=[MinValueValidator(0), MaxValueValidator(1)])
    words = models.CharField(max_length=120, blank=True)
    length_mm = models.DecimalField(
        "length, mm",
        max_digits=6,
        decimal_places=1,
        null=True,
        blank=True,
        validators=[MinValueValidator(0), MaxValueValidator(9999)],
    )
    # What lies there, where it is a part: counted in its crate.
    line = models.ForeignKey(
        "instruments.CrateLine", on_delete=models.PROTECT, null=True, blank=True, related_name="marks"
    )
    by = models.ForeignKey("people.Person", on_delete=models.PROTECT, related_name="+", editable=False)
    at = models.DateTimeField(default=clock.now, editable=False)
    struck_at = models.DateTimeField(null=True, blank=True, editable=False)
    struck_by = models.ForeignKey(
        "people.Person", on_delete=models.PROTECT, null=True, blank=True, related_name="+", editable=False
    )
    # The key of the form that placed it, so that a form sent twice places one.
    key = models.CharField(max_length=64, blank=True, editable=False)

    objects = PhotoMarkQuerySet.as_manager()

    class Meta:
        ordering = ["photo", "number"]
        constraints = [
            models.UniqueConstraint(
                fields=["photo", "number"], condition=Q(struck_at=None), name="marks_are_numbered"
            ),
            models.UniqueConstraint(
                fields=["line"], condition=Q(struck_at=None), name="a_part_lies_in_one_place"
            ),
            models.UniqueConstraint(fields=["photo", "key"], condition=~Q(key=""), name="one_mark_per_form"),
            models.CheckConstraint(
                condition=Q(x__gte=0, x__lte=1, y__gte=0, y__lte=1), name="marks_lie_on_the_photo"
            ),
        ]

    def __str__(self) -> str:
        return f"{self.get_kind_display()} {self.number}: {self.words}".rstrip(": ")
