"""Bench sheets: what was read at a task, what was computed from it, and with which caution in mind."""

from __future__ import annotations

from django.core.validators import MaxValueValidator, MinValueValidator
from django.db import models

from shopflow.catalogue.models import SheetKind
from shopflow.common import clock


class BenchSheet(models.Model):
    """The sheet of one kind that belongs to a task. Its lines are only added, or struck with a reason."""

    task = models.ForeignKey("workshop.Task", on_delete=models.PROTECT, related_name="sheets")
    kind = models.CharField(max_length=12, choices=SheetKind.choices)
    opened_by = models.ForeignKey("people.Person", on_delete=models.PROTECT, related_name="+")
    opened_at = models.DateTimeField(default=clock.now, editable=False)

    class Meta:
        ordering = ["task", "pk"]
        constraints = [models.UniqueConstraint(fields=["task", "kind"], name="one_sheet_of_a_kind_per_task")]

    def __str__(self) -> str:
        return f"{self.get_kind_display()} sheet of {self.task}"


class Phase(models.TextChoices):
    """When a value was read; a pair of before and after shows in the handover report."""

    BEFORE = "before", "before the work"
    DURING = "during", "during the work"
    AFTER = "after", "after the work"


class SheetLine(models.Model):
    """What every line of a sheet bears: who wrote it, with which tap, and whether it was struck, and why."""

    measured_again = models.BooleanField("beyond what is possible, kept after a yes", default=False)
    by = models.ForeignKey("people.Person", on_delete=models.PROTECT, related_name="+")
    at = models.DateTimeField(default=clock.now, editable=False)
    client = models.CharField(max_length=20, blank=True, editable=False)
    key = models.CharField(max_length=80, blank=True, editable=False)
    struck_at = models.DateTimeField(null=True, blank=True, editable=False)
    struck_by = models.ForeignKey(
        "people.Person", on_delete=models.PROTECT, null=True, blank=True, related_name="+", editable=False
    )
    struck_reason = models.CharField(max_length=200, blank=True, editable=False)

    class Meta:
        abstract = True


class Reading(SheetLine):
    """One value, as typed with its unit and in the unit that is kept."""

    sheet = models.ForeignKey(BenchSheet, on_delete=models.PROTECT, related_name="readings")
    kind = models.ForeignKey("catalogue.ReadingKind", on_delete=models.PROTECT, related_name="readings")
    phase = models.CharField(max_length=6, choices=Phase.choices, default=Phase.DURING)
    place = models.CharField("note, section, rib, part …", max_length=40, blank=True)
    typed = models.CharField(max_length=40)
    unit = models.CharField(max_length=12, blank=True)
    value = models.FloatField()

    class Meta:
        ordering = ["sheet", "pk"]
        indexes = [models.Index(fields=["sheet", "kind", "place"], name="readings_by_place")]
        constraints = [
            models.UniqueConstraint(
                fields=["client", "key"], condition=~models.Q(key=""), name="one_reading_per_tap"
            )
        ]

    def __str__(self) -> str:
        return f"{self.kind} {self.place}: {self.typed} {self.unit}"


class Computed(SheetLine):
    """What the house computed from what was typed: inputs, outputs, verdict, and by which version."""

    sheet = models.ForeignKey(BenchSheet, on_delete=models.PROTECT, related_name="computed")
    code = models.SlugField("which sum", max_length=40)
    typed = models.JSONField("as typed, with units", default=dict)
    outputs = models.JSONField(default=dict)
    verdict = models.CharField("in words", max_length=400, blank=True)
    version = models.CharField("of the computation", max_length=20)

    class Meta:
        ordering = ["sheet", "pk"]
        verbose_name_plural = "computed"
        constraints = [
            models.UniqueConstraint(
                fields=["client", "key"], condition=~models.Q(key=""), name="one_computed_per_tap"
            )
        ]

    def __str__(self) -> str:
        return f"{self.code} on {self.sheet_id}"


class CautionSeen(models.Model):
    """This person has seen this caution at this task."""

    task = models.ForeignKey("workshop.Task", on_delete=models.CASCADE, related_name="cautions_seen")
    caution = models.ForeignKey("catalogue.Caution", on_delete=models.CASCADE, related_name="+")
    person = models.ForeignKey("people.Person", on_delete=models.CASCADE, related_name="+")
    at = models.DateTimeField(default=clock.now, editable=False)

    class Meta:
        verbose_name_plural = "cautions seen"
        constraints = [
            models.UniqueConstraint(
                fields=["task", "caution", "person"], name="a_caution_is_seen_once_per_person_and_task"
            )
        ]

    def __str__(self) -> str:
        return f"{self.caution_id} at {self.task_id}"


class RoomAir(models.Model):
    """The air of a room at one moment, in the log that wood and film are judged by."""

    room = models.CharField(max_length=40)
    temp_c = models.FloatField(validators=[MinValueValidator(-20), MaxValueValidator(60)])
    rh_percent = models.FloatField(validators=[MinValueValidator(1), MaxValueValidator(100)])
    typed = models.CharField(max_length=60, blank=True)
    by = models.ForeignKey("people.Person", on_delete=models.PROTECT, related_name="+")
    at = models.DateTimeField(default=clock.now)

    class Meta:
        ordering = ["-at", "-pk"]
        indexes = [models.Index(fields=["room", "at"], name="air_by_room")]
        verbose_name_plural = "air of the rooms"

    def __str__(self) -> str:
        return f"{self.room}: {self.temp_c} °C, {self.rh_percent} %"


class CureSet(models.Model):
    """How long a task has to rest, set for this one: by the product's sheet, or cut short with a reason."""

    task = models.ForeignKey("workshop.Task", on_delete=models.PROTECT, related_name="cures_set")
    begins_at = models.DateTimeField()
    hours = models.FloatField(validators=[MinValueValidator(0), MaxValueValidator(9_000)])
    basis = models.CharField("by which sheet or rule", max_length=200)
    is_shortened = models.BooleanField(default=False)
    reason = models.CharField(max_length=300, blank=True)
    by = models.ForeignKey("people.Person", on_delete=models.PROTECT, related_name="+")
    at = models.DateTimeField(default=clock.now, editable=False)

    class Meta:
        ordering = ["task", "pk"]
        constraints = [
            models.CheckConstraint(
                condition=models.Q(is_shortened=False) | ~models.Q(reason=""),
                name="a_cure_is_shortened_with_a_reason",
            )
        ]

    def __str__(self) -> str:
        return f"{self.task_id}: {self.hours} h from {self.begins_at}"
