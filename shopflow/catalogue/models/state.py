"""What the shop knows of the state of a piano: lines that go down and up, steps, parts kept or renewed."""

from __future__ import annotations

from django.db import models

from ..querysets import CodedManager

BASIS = "state and order: common practice, no source"


class StateLine(models.Model):
    """One thing about a piano that work lowers and raises again, with its levels from least to most."""

    code = models.CharField(max_length=20, unique=True)
    name = models.CharField(max_length=60)
    levels = models.JSONField("levels, from least to most", default=list)
    say = models.JSONField("how each level is said", default=list)
    found = models.CharField("where it is when a piano comes in", max_length=20)
    goal = models.CharField("where it must be at least when a piano leaves", max_length=20)
    place = models.BooleanField("only a place: it orders what is taken out and put back", default=False)
    clears_itself = models.BooleanField("no work raises it: it only orders", default=False)
    stays_at_top = models.BooleanField("once reached it is never asked for again", default=False)
    by_part = models.BooleanField("concerns only work on the same part", default=False)
    basis = models.CharField(max_length=120, default=BASIS, blank=True)
    position = models.PositiveSmallIntegerField(default=0)

    objects = CodedManager()

    class Meta:
        ordering = ["position", "code"]

    def __str__(self) -> str:
        return self.name

    def natural_key(self) -> tuple[str]:
        return (self.code,)

    def said(self, level: str) -> str:
        """The level in the shop's words."""
        words = dict(zip(self.levels, self.say, strict=False))
        return words.get(level) or f"{self.name}: {level}"


class StepLine(models.Model):
    """Steps of work in one part: the earlier one comes first whenever both are in the job."""

    code = models.CharField(max_length=30, unique=True)
    name = models.CharField(max_length=60)
    steps = models.JSONField("steps, the first one first", default=list)
    by_part = models.BooleanField("concerns only work on the same part", default=False)
    basis = models.CharField(max_length=120, default=BASIS, blank=True)
    position = models.PositiveSmallIntegerField(default=0)

    objects = CodedManager()

    class Meta:
        ordering = ["position", "code"]

    def __str__(self) -> str:
        return self.name

    def natural_key(self) -> tuple[str]:
        return (self.code,)


class KeptPart(models.Model):
    """A part that work keeps old or throws away, and what goes with it when it goes."""

    code = models.CharField(max_length=30, unique=True)
    words = models.CharField("the old one, in words", max_length=60, blank=True)
    goes_with = models.JSONField("what is thrown away with it", default=list, blank=True)
    position = models.PositiveSmallIntegerField(default=0)

    objects = CodedManager()

    class Meta:
        ordering = ["position", "code"]

    def __str__(self) -> str:
        return self.words or self.code

    def natural_key(self) -> tuple[str]:
        return (self.code,)


class WorkSort(models.Model):
    """A sort of work, and what all work of the sort needs and spoils."""

    code = models.CharField(max_length=20, unique=True)
    name = models.CharField(max_length=80)
    needs = models.JSONField(default=dict, blank=True)
    spoils = models.JSONField(default=dict, blank=True)
    position = models.PositiveSmallIntegerField(default=0)

    objects = CodedManager()

    class Meta:
        ordering = ["position", "code"]

    def __str__(self) -> str:
        return self.name

    def natural_key(self) -> tuple[str]:
        return (self.code,)
