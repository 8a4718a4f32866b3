"""The work and its ledger: tasks, moves, passages through the door, snags, hours, taps."""

from __future__ import annotations

from django.core.validators import MaxValueValidator, MinValueValidator
from django.db import models
from django.db.models import F, Q

from shopflow.common import clock
from shopflow.common.ledger import AddedOnly, LedgerLine

from .querysets import SnagQuerySet, TaskPhotoQuerySet, TaskQuerySet

HOURS = [MinValueValidator(0), MaxValueValidator(1000)]


class Task(models.Model):
    """One operation on one instrument, on its way along the stages of its path.

    `stage` and `stage_since` are a projection of the moves, written in the same transaction as each move.
    """

    instrument = models.ForeignKey("instruments.Instrument", on_delete=models.PROTECT, related_name="tasks")
    department = models.ForeignKey("catalogue.Department", on_delete=models.PROTECT, related_name="tasks")
    operation = models.ForeignKey(
        "catalogue.Operation", on_delete=models.PROTECT, null=True, blank=True, related_name="tasks"
    )
    name = models.CharField(max_length=80)
    note = models.TextField(max_length=1000, blank=True)
    # Why it is in the job although nobody asked for it: what it opens, closes or sets right again.
    why = models.TextField("why it is in the job", max_length=600, blank=True, editable=False)
    # Which parts of the piano work in own words holds while hands are on it; an operation says so itself.
    at = models.JSONField("parts it holds", default=list, blank=True)
    position = models.PositiveSmallIntegerField(default=0)
    # The ids of its stages in order, copied when the task was laid out, so that a later change of the
    # catalogue leaves work under way alone.
    path = models.JSONField()
    stage = models.ForeignKey("catalogue.Stage", on_delete=models.PROTECT, related_name="tasks")
    stage_since = models.DateTimeField(default=clock.now)
    hours_low = models.DecimalField(max_digits=6, decimal_places=2, validators=HOURS)
    hours_likely = models.DecimalField(max_digits=6, decimal_places=2, validators=HOURS)
    hours_high = models.DecimalField(max_digits=6, decimal_places=2, validators=HOURS)
    rest_hours = models.DecimalField(
        "planned rest, calendar hours", max_digits=6, decimal_places=1, default=0
    )
    # The least that it rests: the catalogue's low figure when it was laid out, or what its bench sheet says.
    least_rest_hours = models.DecimalField(max_digits=6, decimal_places=1, default=0, editable=False)
    # When the published plan begins it, written when that plan is put up; None where it says nothing.
    planned_for = models.DateTimeField(null=True, editable=False)
    at_the_owners = models.BooleanField("done after the instrument has left", default=False)
    # Set when it enters a rest, moved by its bench sheet; None outside a rest.
    earliest_touch = models.DateTimeField("resting at least until", null=True, editable=False)
    # Written by readings, from its bench sheet.
    read_at = models.DateTimeField("last reading on its bench sheet", null=True, editable=False)
    person = models.ForeignKey(
        "people.Person", on_delete=models.PROTECT, null=True, blank=True, related_name="tasks"
    )
    dropped_at = models.DateTimeField(null=True, blank=True, editable=False)
    dropped_by = models.ForeignKey(
        "people.Person", on_delete=models.PROTECT, null=True, blank=True, related_name="+", editable=False
    )
    dropped_reason = models.CharField(max_length=300, blank=True, editable=False)
    created_at = models.DateTimeField(default=clock.now, editable=False)

    objects = TaskQuerySet.as_manager()

    class Meta:
        ordering = ["instrument", "position", "pk"]
        constraints = [
            models.CheckConstraint(
                condition=Q(hours_low__gte=0, hours_low__lte=F("hours_likely"))
                & Q(hours_likely__lte=F("hours_high")),
                name="task_hours_low_likely_high_in_order",
            ),
        ]
        indexes = [models.Index(fields=["department", "stage", "dropped_at"], name="tasks_at_a_bench")]

    def __str__(self) -> str:
        return f"{self.instrument.number}: {self.name}"


class TaskNeed(models.Model):
    """`task` may not leave the rack before `needs` is signed."""

    task = models.ForeignKey(Task, on_delete=models.CASCADE, related_name="needs")
    needs = models.ForeignKey(Task, on_delete=models.CASCADE, related_name="needed_by")
    # In words; empty where somebody tied them by hand.
    reason = models.CharField(max_length=300, blank=True)

    class Meta:
        constraints = [
            models.UniqueConstraint(fields=["task", "needs"], name="need_once_per_pair"),
            models.CheckConstraint(condition=~Q(task=F("needs")), name="no_task_needs_itself"),
        ]

    def __str__(self) -> str:
        return f"{self.task_id} after {self.needs_id}"


class Move(LedgerLine):
    """This task went from this stage to that one, by whom, when, from which tablet."""

    task = models.ForeignKey(Task, on_delete=models.PROTECT, related_name="moves")
    origin = models.ForeignKey("catalogue.Stage", on_delete=models.PROTECT, related_name="+")
    target = models.ForeignKey("catalogue.Stage", on_delete=models.PROTECT, related_name="+")
    by = models.ForeignKey("people.Person", on_delete=models.PROTECT, related_name="moves")
    tablet = models.ForeignKey(
        "people.Tablet", on_delete=models.PROTECT, null=True, blank=True, related_name="+"
    )
    tapped_at = models.DateTimeField("by the device's clock")
    recorded_at = models.DateTimeField("by the server's clock", default=clock.now)
    client = models.CharField("the tablet, or the person at a desk", max_length=20)
    key = models.CharField("the tap's key", max_length=64)
    undoes = models.OneToOneField(
        "self", on_delete=models.PROTECT, null=True, blank=True, related_name="undone_by"
    )
    reason = models.CharField(max_length=300, blank=True)
    overrode = models.BooleanField("went past the order of work", default=False)

    objects = AddedOnly.as_manager()

    class Meta:
        ordering = ["pk"]
        constraints = [models.UniqueConstraint(fields=["client", "key"], name="one_move_per_tap")]
        indexes = [models.Index(fields=["recorded_at"], name="moves_by_time")]

    def __str__(self) -> str:
        return f"{self.task_id}: {self.origin_id} to {self.target_id}"


class Passage(LedgerLine):
    """An instrument's way through the house: arrived, finished, reopened, handed over, left, came back."""

    class Kind(models.TextChoices):
        ARRIVED = "arrived", "arrived"
        FINISHED = "finished", "finished"
        REOPENED = "reopened", "opened again"
        HANDED = "handed", "handed over to its owner"
        LEFT = "left", "left the house"
        RETURNED = "returned", "came back"

    instrument = models.ForeignKey(
        "instruments.Instrument", on_delete=models.PROTECT, related_name="passages"
    )
    kind = models.CharField(max_length=8, choices=Kind.choices)
    on = models.DateField()
    by = models.ForeignKey("people.Person", on_delete=models.PROTECT, related_name="+")
    recorded_at = models.DateTimeField(default=clock.now)
    move = models.ForeignKey(Move, on_delete=models.PROTECT, null=True, blank=True, related_name="+")
    reason = models.CharField(max_length=300, blank=True)

    objects = AddedOnly.as_manager()

    class Meta:
        ordering = ["pk"]
        indexes = [models.Index(fields=["kind", "on"], name="passages_by_day")]

    def __str__(self) -> str:
        return f"{self.instrument.number} {self.get_kind_display()} on {self.on}"


class PromiseMade(LedgerLine):
    """An instrument was promised for a day, or the promise was taken back, and what stood before."""

    instrument = models.ForeignKey(
        "instruments.Instrument", on_delete=models.PROTECT, related_name="promises_made"
    )
    on = models.DateField("promised for", null=True, blank=True)
    instead_of = models.DateField(null=True, blank=True)
    by = models.ForeignKey("people.Person", on_delete=models.PROTECT, related_name="+")
    recorded_at = models.DateTimeField(default=clock.now)

    objects = AddedOnly.as_manager()

    class Meta:
        ordering = ["pk"]
        verbose_name_plural = "promises made"

    def __str__(self) -> str:
        return f"{self.instrument.number} promised for {self.on}" if self.on else f"{self.instrument.number}"


class Snag(models.Model):
    """Something that stops a task, with a reason, an owner and a date to ask again."""

    class Cause(models.TextChoices):
        CUSTOMER = "customer", "the customer has to decide"
        SUPPLIER = "supplier", "waiting for something from outside"
        PART = "part", "a part is missing"
        FAULT = "fault", "something is wrong with the work"
        BENCH = "bench", "no bench, hand or tool free"
        CURE = "cure", "not dry or not settled yet"
        UNCLEAR = "unclear", "not clear what to do"

    task = models.ForeignKey(Task, on_delete=models.PROTECT, related_name="snags")
    cause = models.CharField(max_length=8, choices=Cause.choices)
    reason = models.CharField(max_length=300)
    owner = models.ForeignKey(
        "people.Person", on_delete=models.PROTECT, null=True, blank=True, related_name="snags_owned"
    )
    owner_outside = models.CharField("or someone outside", max_length=80, blank=True)
    ask_again_on = models.DateField()
    raised_by = models.ForeignKey("people.Person", on_delete=models.PROTECT, related_name="+")
    raised_at = models.DateTimeField(default=clock.now)
    cleared_by = models.ForeignKey(
        "people.Person", on_delete=models.PROTECT, null=True, blank=True, related_name="+"
    )
    cleared_at = models.DateTimeField(null=True, blank=True)
    cleared_note = models.CharField(max_length=300, blank=True)

    objects = SnagQuerySet.as_manager()

    class Meta:
        ordering = ["raised_at", "pk"]
        constraints = [
            models.CheckConstraint(
                condition=Q(owner__isnull=False) | ~Q(owner_outside=""), name="a_snag_has_an_owner"
            ),
        ]

    def __str__(self) -> str:
        return f"{self.task}: {self.reason}"

    @property
    def owner_name(self) -> str:
        return self.owner.name if self.owner else self.owner_outside


class HoursSpent(models.Model):
    """Hands-on hours of one person on one task on one day."""

    task = models.ForeignKey(Task, on_delete=models.PROTECT, related_name="hours_spent")
    person = models.ForeignKey("people.Person", on_delete=models.PROTECT, related_name="+")
    hours = models.DecimalField(
        max_digits=5, decimal_places=2, validators=[MinValueValidator(0), MaxValueValidator(24)]
    )
    worked_on = models.DateField()
    recorded_at = models.DateTimeField(default=clock.now)

    class Meta:
        ordering = ["worked_on", "pk"]
        verbose_name_plural = "hours spent"
        constraints = [
            models.CheckConstraint(condition=Q(hours__gt=0, hours__lte=24), name="hours_within_a_day")
        ]
        indexes = [models.Index(fields=["worked_on"], name="hours_by_day")]

    def __str__(self) -> str:
        return f"{self.hours} h on {self.task_id}"


class TaskPhoto(models.Model):
    """Ties a photo to the task at which it was taken."""

    task = models.ForeignKey(Task, on_delete=models.PROTECT, related_name="photos")
    photo = models.OneToOneField("photos.Photo", on_delete=models.CASCADE, related_name="at_task")

    objects = TaskPhotoQuerySet.as_manager()

    def __str__(self) -> str:
        return f"{self.photo} at {self.task}"


class Tap(models.Model):
    """The answer once given to a tap, kept so that the same key gets the same answer again."""

    client = models.CharField(max_length=20)
    key = models.CharField(max_length=64)
    fingerprint = models.CharField(max_length=64)
    status = models.PositiveSmallIntegerField()
    answer = models.JSONField()
    recorded_at = models.DateTimeField(default=clock.now)

    class Meta:
        constraints = [models.UniqueConstraint(fields=["client", "key"], name="one_answer_per_tap")]
        indexes = [models.Index(fields=["recorded_at"], name="taps_by_time")]

    def __str__(self) -> str:
        return f"{self.client} {self.key}: {self.status}"
