"""A survey of condition: what was looked at, what was found, what was read, and what nobody could see."""

from __future__ import annotations

from django.core.validators import MaxValueValidator, MinValueValidator
from django.db import models

from shopflow.common import clock

from .instrument import Instrument


class Survey(models.Model):
    """One look over a whole instrument. A later one adds to the first and changes nothing in it."""

    class Occasion(models.TextChoices):
        FIRST = "first", "before any work"
        TEARDOWN = "teardown", "after teardown"
        AGAIN = "again", "when it came back"

    instrument = models.ForeignKey(Instrument, on_delete=models.PROTECT, related_name="surveys")
    number = models.PositiveSmallIntegerField(editable=False)
    occasion = models.CharField(max_length=8, choices=Occasion.choices, default=Occasion.FIRST)
    by = models.ForeignKey("people.Person", on_delete=models.PROTECT, related_name="+")
    place = models.CharField("where", max_length=80, blank=True)
    room_c = models.DecimalField("air, °C", max_digits=4, decimal_places=1, null=True, blank=True)
    room_rh = models.DecimalField("air, % RH", max_digits=4, decimal_places=1, null=True, blank=True)
    note = models.TextField(max_length=2000, blank=True)
    began_at = models.DateTimeField(default=clock.now, editable=False)
    finished_at = models.DateTimeField(null=True, blank=True, editable=False)

    class Meta:
        ordering = ["instrument", "number"]
        constraints = [
            models.UniqueConstraint(fields=["instrument", "number"], name="surveys_are_numbered"),
            models.UniqueConstraint(
                fields=["instrument"],
                condition=models.Q(finished_at=None),
                name="one_open_survey_per_instrument",
            ),
        ]

    def __str__(self) -> str:
        return f"survey {self.number} of {self.instrument.number}"


class GroupLook(models.Model):
    """What one survey says of one component group as a whole. No row: nobody has come to it yet."""

    class Word(models.TextChoices):
        GOOD = "good", "looked at, nothing found"
        FOUND = "found", "looked at, findings below"
        PARTLY = "partly", "only partly seen"
        NOT = "not", "not inspected"

    survey = models.ForeignKey(Survey, on_delete=models.CASCADE, related_name="looks")
    group = models.ForeignKey("catalogue.ComponentGroup", on_delete=models.PROTECT, related_name="+")
    word = models.CharField(max_length=6, choices=Word.choices)
    why = models.CharField("why not, or what could not be seen", max_length=300, blank=True)
    by = models.ForeignKey("people.Person", on_delete=models.PROTECT, related_name="+")
    at = models.DateTimeField(default=clock.now, editable=False)

    class Meta:
        ordering = ["group__position"]
        constraints = [
            models.UniqueConstraint(fields=["survey", "group"], name="one_look_per_group_and_survey")
        ]

    def __str__(self) -> str:
        return f"{self.group}: {self.get_word_display()}"


class Finding(models.Model):
    """Something that is not as it should be, from the library or in own words."""

    class Confidence(models.TextChoices):
        SEEN = "seen", "seen"
        INFERRED = "inferred", "inferred"
        HIDDEN = "hidden", "hidden until teardown"

    class Unit(models.TextChoices):
        OF_88 = "of-88", "of 88"
        OF_230 = "of-230", "of about 230 strings"
        PIECES = "pieces", "pieces"
        MM = "mm", "mm"
        CM2 = "cm2", "cm²"
        PERCENT = "percent", "%"

    class Verdict(models.TextChoices):
        """What a later survey says of an earlier finding."""

        AS_BEFORE = "as-before", "as before"
        WORSE = "worse", "worse than thought"
        LESS = "less", "less than thought"
        NOT_SO = "not-so", "not so after all"

    class Reason(models.TextChoices):
        """Why a finding is left as found."""

        MONEY = "money", "the money did not reach"
        WISH = "wish", "the customer wished it so"
        SOUND = "sound", "sound enough"
        OUT_OF_REACH = "reach", "not reachable"

    class State(models.TextChoices):
        OPEN = "open", "not decided"
        IN_WORK = "in-work", "to be mended"
        MENDED = "mended", "mended"
        LEFT = "left", "left as found"
        WITHDRAWN = "withdrawn", "not so after all"

    survey = models.ForeignKey(Survey, on_delete=models.PROTECT, related_name="findings")
    instrument = models.ForeignKey(Instrument, on_delete=models.PROTECT, related_name="findings")
    group = models.ForeignKey("catalogue.ComponentGroup", on_delete=models.PROTECT, related_name="+")
    kind = models.ForeignKey(
        "catalogue.FindingKind", on_delete=models.PROTECT, null=True, blank=True, related_name="findings"
    )
    # Counted within the instrument, so that photo, offer and report name the same one.
    number = models.PositiveSmallIntegerField(editable=False)
    name = models.CharField(max_length=120)
    words = models.TextField("what exactly, and where", max_length=1000, blank=True)
    severity = models.PositiveSmallIntegerField(validators=[MinValueValidator(0), MaxValueValidator(4)])
    extent = models.DecimalField(
        max_digits=8,
        decimal_places=1,
        null=True,
        blank=True,
        validators=[MinValueValidator(0), MaxValueValidator(100_000)],
    )
    extent_unit = models.CharField(max_length=8, choices=Unit.choices, blank=True)
    confidence = models.CharField(max_length=8, choices=Confidence.choices, default=Confidence.SEEN)
    # A finding of a later survey may speak of an earlier one: it stands beside it, never over it.
    about = models.ForeignKey(
        "self", on_delete=models.PROTECT, null=True, blank=True, related_name="later_words"
    )
    verdict = models.CharField(max_length=10, choices=Verdict.choices, blank=True)
    # A projection of the approvals, answers and signed work in offers; written by them.
    state = models.CharField(max_length=10, choices=State.choices, default=State.OPEN, editable=False)
    by = models.ForeignKey("people.Person", on_delete=models.PROTECT, related_name="+")
    at = models.DateTimeField(default=clock.now, editable=False)
    # The key of the form that wrote it, so that a form sent twice writes it once.
    key = models.CharField(max_length=64, blank=True, editable=False)
    taken_back_at = models.DateTimeField(null=True, blank=True, editable=False)

    class Meta:
        ordering = ["instrument", "number"]
        constraints = [
            models.UniqueConstraint(fields=["instrument", "number"], name="findings_are_numbered"),
            models.UniqueConstraint(
                fields=["survey", "key"], condition=~models.Q(key=""), name="one_finding_per_form"
            ),
        ]

    def __str__(self) -> str:
        return f"{self.instrument.number} finding {self.number}: {self.name}"

    @property
    def how_much(self) -> str:
        """Its extent in words: "340 mm", "1 piece", "26 of 88"; empty where none is said."""
        if self.extent is None:
            return ""
        number = f"{self.extent.normalize():f}"
        unit = "piece" if self.extent == 1 and self.extent_unit == self.Unit.PIECES else None
        return f"{number} {unit or self.get_extent_unit_display()}".strip()


class SurveyReading(models.Model):
    """A value read during a survey, as typed and in the unit that is kept."""

    survey = models.ForeignKey(Survey, on_delete=models.PROTECT, related_name="readings")
    kind = models.ForeignKey("catalogue.ReadingKind", on_delete=models.PROTECT, related_name="+")
    finding = models.ForeignKey(
        Finding, on_delete=models.PROTECT, null=True, blank=True, related_name="readings"
    )
    place = models.CharField("note, section, rib …", max_length=40, blank=True)
    typed = models.CharField(max_length=40)
    unit = models.CharField(max_length=12, blank=True)
    value = models.DecimalField(max_digits=12, decimal_places=4)
    measured_again = models.BooleanField("beyond what is possible, kept after a yes", default=False)
    by = models.ForeignKey("people.Person", on_delete=models.PROTECT, related_name="+")
    at = models.DateTimeField(default=clock.now, editable=False)
    key = models.CharField(max_length=64, blank=True, editable=False)
    taken_back_at = models.DateTimeField(null=True, blank=True, editable=False)

    class Meta:
        ordering = ["survey", "kind", "pk"]
        constraints = [
            models.UniqueConstraint(
                fields=["survey", "key"], condition=~models.Q(key=""), name="one_survey_reading_per_form"
            )
        ]

    def __str__(self) -> str:
        return f"{self.kind}: {self.typed} {self.unit}".strip()


class SurveyDraft(models.Model):
    """What someone has typed into one form of an open survey and not saved yet; nobody else sees it."""

    survey = models.ForeignKey(Survey, on_delete=models.CASCADE, related_name="drafts")
    by = models.ForeignKey("people.Person", on_delete=models.CASCADE, related_name="+")
    form = models.CharField(max_length=60)
    fields = models.JSONField(default=dict)
    saved_at = models.DateTimeField(default=clock.now, editable=False)

    class Meta:
        ordering = ["-saved_at", "-pk"]
        constraints = [
            models.UniqueConstraint(
                fields=["survey", "by", "form"], name="one_survey_draft_per_form_and_person"
            )
        ]

    def __str__(self) -> str:
        return f"{self.form}, not saved yet"
