"""The strings of an instrument, note by note: as they were found, as they are proposed, as they went on."""

from __future__ import annotations

from django.core.validators import MaxValueValidator, MinValueValidator
from django.db import models
from django.db.models import F, Q

from shopflow.common import clock
from shopflow.compute.strings import FIGURES


class StringScale(models.Model):
    """One scale of an instrument, with the pitch and the strength of wire by which it is reckoned."""

    class Kind(models.TextChoices):
        FOUND = "found", "as found"
        PROPOSED = "proposed", "proposed"
        STRUNG = "strung", "as strung"

    class Gauge(models.TextChoices):
        """The two series of music wire bear the same numbers on other wire."""

        INCH = "inch", "by thousandths of an inch (13 = 0.031 in)"
        METRIC = "metric", "metric (13 = 0.775 mm)"

    instrument = models.ForeignKey(
        "instruments.Instrument", on_delete=models.PROTECT, related_name="string_scales"
    )
    kind = models.CharField(max_length=8, choices=Kind.choices, default=Kind.FOUND)
    name = models.CharField("in words", max_length=60, blank=True)
    a4_hz = models.FloatField(
        "pitch of A4, Hz", default=440.0, validators=[MinValueValidator(300), MaxValueValidator(600)]
    )
    figure = models.CharField(
        "strength of the wire", max_length=20, choices=[(name, name) for name in FIGURES], default=FIGURES[0]
    )
    strength_mpa = models.FloatField(
        "the maker's own strength, MPa",
        null=True,
        blank=True,
        validators=[MinValueValidator(100), MaxValueValidator(5000)],
    )
    gauge = models.CharField("music wire sizes", max_length=6, choices=Gauge.choices, default=Gauge.INCH)
    based_on = models.ForeignKey(
        "self", on_delete=models.SET_NULL, null=True, blank=True, related_name="+", editable=False
    )
    # Goes up with every change of the scale or of a note in it, so that nobody writes over another unseen.
    version = models.PositiveIntegerField(default=1, editable=False)
    by = models.ForeignKey("people.Person", on_delete=models.PROTECT, related_name="+", editable=False)
    at = models.DateTimeField(default=clock.now, editable=False)
    changed_at = models.DateTimeField(default=clock.now, editable=False)

    class Meta:
        ordering = ["instrument", "pk"]

    def __str__(self) -> str:
        return f"{self.name}, {self.get_kind_display()}" if self.name else self.get_kind_display()


class ScaleNote(models.Model):
    """The strings of one note. `wire_mm` is the plain wire, or the core where there is a cover."""

    class Ends(models.TextChoices):
        """How the string is held at the hitch pin."""

        LOOP = "loop", "a loop of its own"
        ROUND = "round", "round the pin, two strings of one wire"

    scale = models.ForeignKey(StringScale, on_delete=models.CASCADE, related_name="notes")
    note = models.PositiveSmallIntegerField(validators=[MinValueValidator(1), MaxValueValidator(88)])
    section = models.CharField(max_length=20, blank=True)
    strings = models.PositiveSmallIntegerField(
        default=3, validators=[MinValueValidator(1), MaxValueValidator(4)]
    )
    length_mm = models.FloatField(
        "speaking length, mm", validators=[MinValueValidator(20), MaxValueValidator(3000)]
    )
    wire_mm = models.FloatField(validators=[MinValueValidator(0.3), MaxValueValidator(3)])
    wire_size = models.FloatField("music wire size", null=True, blank=True)
    cover_mm = models.FloatField(
        "over the winding, mm", null=True, blank=True, validators=[MaxValueValidator(12)]
    )
    ends = models.CharField(max_length=5, choices=Ends.choices, default=Ends.ROUND)
    overall_mm = models.FloatField(
        "hitch pin to tuning pin, mm",
        null=True,
        blank=True,
        validators=[MinValueValidator(40), MaxValueValidator(4000)],
    )
    typed = models.CharField("as typed", max_length=120, blank=True)
    measured_again = models.BooleanField("unlikely, kept after a yes", default=False)
    by = models.ForeignKey("people.Person", on_delete=models.PROTECT, related_name="+", editable=False)
    at = models.DateTimeField(default=clock.now, editable=False)

    class Meta:
        ordering = ["scale", "note"]
        constraints = [
            models.UniqueConstraint(fields=["scale", "note"], name="a_note_once_per_scale"),
            models.CheckConstraint(condition=Q(note__gte=1, note__lte=88), name="notes_run_from_1_to_88"),
            models.CheckConstraint(
                condition=Q(cover_mm__isnull=True) | Q(cover_mm__gt=F("wire_mm")),
                name="a_cover_is_thicker_than_its_core",
            ),
        ]

    def __str__(self) -> str:
        return f"note {self.note} of scale {self.scale_id}"

    @property
    def is_wound(self) -> bool:
        return self.cover_mm is not None
