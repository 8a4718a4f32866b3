"""Offers: options side by side with their price, frozen when sent, approved by an explicit act."""

from __future__ import annotations

from django.db import models
from django.db.models import Q

from shopflow.catalogue.models.work import MONEY
from shopflow.common import clock
from shopflow.instruments.models import Finding
from shopflow.workshop.models import AddedOnly, LedgerLine


class Offer(models.Model):
    """One version of an offer. Once sent nothing in it changes; what differs is a new version beside it."""

    class State(models.TextChoices):
        DRAFT = "draft", "being written"
        SENT = "sent", "sent, waiting for an answer"
        APPROVED = "approved", "approved"
        DECLINED = "declined", "declined"
        REPLACED = "replaced", "replaced by a newer version"
        WITHDRAWN = "withdrawn", "withdrawn"

    instrument = models.ForeignKey("instruments.Instrument", on_delete=models.PROTECT, related_name="offers")
    version = models.PositiveSmallIntegerField(editable=False)
    state = models.CharField(max_length=9, choices=State.choices, default=State.DRAFT, editable=False)
    words = models.TextField("to the customer", max_length=3000, blank=True)
    value_words = models.TextField("about value, and when not to do it", max_length=1500, blank=True)
    holds_until = models.DateField("price holds until", null=True, blank=True)
    deposit = models.DecimalField(max_digits=9, decimal_places=2, default=0, validators=MONEY)
    deposit_noted_on = models.DateField("deposit received on", null=True, blank=True)
    # What the customer sees, whole, as it was sent; the fingerprint is of exactly this.
    frozen = models.JSONField(null=True, editable=False)
    fingerprint = models.CharField(max_length=64, blank=True, editable=False)
    edition = models.PositiveIntegerField("raised by each change of a draft", default=1, editable=False)
    made_by = models.ForeignKey("people.Person", on_delete=models.PROTECT, related_name="+")
    made_at = models.DateTimeField(default=clock.now, editable=False)
    sent_by = models.ForeignKey("people.Person", on_delete=models.PROTECT, null=True, related_name="+")
    sent_at = models.DateTimeField(null=True, editable=False)
    # To whom it was sent: a later owner of the same piano has no business with it.
    customer = models.ForeignKey(
        "customers.Customer", on_delete=models.PROTECT, null=True, related_name="offers", editable=False
    )
    ended_at = models.DateTimeField(null=True, editable=False)
    ended_why = models.CharField(max_length=300, blank=True)
    # The key of the form that made it, so that a form sent twice makes one.
    key = models.CharField(max_length=64, blank=True, editable=False)

    class Meta:
        ordering = ["instrument", "-version"]
        constraints = [
            models.UniqueConstraint(
                fields=["instrument", "key"], condition=~Q(key=""), name="one_offer_per_form"
            ),
            models.UniqueConstraint(fields=["instrument", "version"], name="offers_are_numbered"),
            models.UniqueConstraint(
                fields=["instrument"], condition=Q(state="sent"), name="one_offer_waits_for_an_answer"
            ),
            models.CheckConstraint(
                condition=Q(state__in=["draft", "withdrawn"]) | ~Q(fingerprint=""),
                name="what_was_sent_has_a_fingerprint",
            ),
        ]

    def __str__(self) -> str:
        return f"offer {self.instrument.number}/{self.version}"


class Option(models.Model):
    """One way to go, with its price. Cost and margin never leave the office."""

    class Level(models.TextChoices):
        KEEP_GOING = "keep-going", "Keep it going"
        GOOD_ORDER = "good-order", "Put in good order"
        REBUILT = "rebuilt", "Rebuilt"
        CASE_ONLY = "case-only", "Case only"
        OWN = "own", "In the shop's own words"

    offer = models.ForeignKey(Offer, on_delete=models.CASCADE, related_name="options")
    scope = models.ForeignKey("offers.Scope", on_delete=models.SET_NULL, null=True, related_name="+")
    level = models.CharField(max_length=10, choices=Level.choices, default=Level.OWN)
    name = models.CharField(max_length=80)
    words = models.TextField(max_length=1000, blank=True)
    position = models.PositiveSmallIntegerField(default=0)
    is_recommended = models.BooleanField(default=False)
    price = models.DecimalField(max_digits=9, decimal_places=2, validators=MONEY)
    # A range where the price is one; both empty where it is fixed.
    price_low = models.DecimalField(max_digits=9, decimal_places=2, null=True, blank=True, validators=MONEY)
    price_high = models.DecimalField(max_digits=9, decimal_places=2, null=True, blank=True, validators=MONEY)
    # What the sums of the works come to; another price is asked for only with a reason.
    reckoned = models.DecimalField(max_digits=9, decimal_places=2, default=0, validators=MONEY)
    price_reason = models.CharField("why another price", max_length=200, blank=True)
    cost = models.DecimalField(max_digits=9, decimal_places=2, default=0, validators=MONEY)
    hours = models.DecimalField(max_digits=7, decimal_places=1, default=0)
    # From the plan, filled in by planning; empty until it was asked.
    weeks_low = models.DecimalField(max_digits=5, decimal_places=1, null=True, blank=True)
    weeks_likely = models.DecimalField(max_digits=5, decimal_places=1, null=True, blank=True)
    weeks_high = models.DecimalField(max_digits=5, decimal_places=1, null=True, blank=True)
    weeks_words = models.CharField(max_length=200, blank=True)

    class Meta:
        ordering = ["offer", "position", "pk"]

    def __str__(self) -> str:
        return f"{self.name} of {self.offer}"


class OptionWork(models.Model):
    """One operation that is part of an option."""

    option = models.ForeignKey(Option, on_delete=models.CASCADE, related_name="works")
    operation = models.ForeignKey("catalogue.Operation", on_delete=models.PROTECT, related_name="+")
    times = models.PositiveSmallIntegerField(default=1)
    hours = models.DecimalField(max_digits=6, decimal_places=1)
    cost = models.DecimalField(max_digits=9, decimal_places=2, validators=MONEY)
    price = models.DecimalField(max_digits=9, decimal_places=2, validators=MONEY)
    position = models.PositiveSmallIntegerField(default=0)

    # Added by the estimator, whatever the remedies need: findings in own words are mended by such work.
    by_hand = models.BooleanField(default=False)

    class Meta:
        ordering = ["option", "position", "pk"]
        constraints = [
            models.UniqueConstraint(fields=["option", "operation"], name="operation_once_per_option")
        ]

    def __str__(self) -> str:
        return f"{self.operation} in {self.option_id}"


class Objection(models.Model):
    """What a rebuilder would object to in an option, and why the office sends it all the same."""

    option = models.ForeignKey(Option, on_delete=models.CASCADE, related_name="objections")
    words = models.CharField(max_length=400)
    reason = models.CharField("why it stays so", max_length=300)
    by = models.ForeignKey("people.Person", on_delete=models.PROTECT, related_name="+")
    at = models.DateTimeField(default=clock.now, editable=False)

    class Meta:
        ordering = ["option", "pk"]
        constraints = [
            models.UniqueConstraint(fields=["option", "words"], name="objection_answered_once_per_option")
        ]

    def __str__(self) -> str:
        return f"{self.words} {self.reason}"


class Treatment(models.TextChoices):
    REPAIR = "repair", "repaired"
    REPLACE = "replace", "replaced"
    LEAVE = "leave", "left as found"


class OptionFinding(models.Model):
    """What an option does about one finding: mends it by a remedy, or leaves it, with the reason told."""

    option = models.ForeignKey(Option, on_delete=models.CASCADE, related_name="findings")
    finding = models.ForeignKey(Finding, on_delete=models.PROTECT, related_name="in_options")
    treatment = models.CharField(max_length=7, choices=Treatment.choices)
    remedy = models.ForeignKey(
        "catalogue.Remedy", on_delete=models.PROTECT, null=True, blank=True, related_name="+"
    )
    reason = models.CharField(max_length=5, choices=Finding.Reason.choices, blank=True)
    consequence = models.CharField("what to expect", max_length=400, blank=True)
    can_wait = models.BooleanField("can be done later", default=True)
    # What it costs alone now, as part of this job, and what it would cost later, opened once more.
    price_now = models.DecimalField(max_digits=9, decimal_places=2, null=True, blank=True, validators=MONEY)
    price_later = models.DecimalField(max_digits=9, decimal_places=2, null=True, blank=True, validators=MONEY)

    class Meta:
        ordering = ["option", "finding"]
        constraints = [
            models.UniqueConstraint(fields=["option", "finding"], name="finding_once_per_option"),
            models.CheckConstraint(
                condition=~Q(treatment="leave") | ~Q(reason=""), name="what_is_left_has_a_reason"
            ),
        ]

    def __str__(self) -> str:
        return f"{self.finding_id} in {self.option_id}: {self.get_treatment_display()}"


class Approval(LedgerLine):
    """The customer's yes to one option of one version: typed name, fingerprint, moment. Never changed."""

    offer = models.OneToOneField(Offer, on_delete=models.PROTECT, related_name="approval")
    option = models.ForeignKey(Option, on_delete=models.PROTECT, related_name="approvals")
    typed_name = models.CharField(max_length=80)
    fingerprint = models.CharField(max_length=64)
    # By the customer's link, or on paper, entered by somebody of the office.
    link = models.ForeignKey(
        "customers.PrivateLink", on_delete=models.PROTECT, null=True, blank=True, related_name="+"
    )
    entered_by = models.ForeignKey(
        "people.Person", on_delete=models.PROTECT, null=True, blank=True, related_name="+"
    )
    signed_on = models.DateField("signed on paper on", null=True, blank=True)
    at = models.DateTimeField(default=clock.now, editable=False)

    objects = AddedOnly.as_manager()

    class Meta:
        ordering = ["-at"]
        constraints = [
            models.CheckConstraint(
                condition=Q(link__isnull=False) | Q(entered_by__isnull=False),
                name="an_approval_came_by_somebody",
            )
        ]

    def __str__(self) -> str:
        return f"{self.offer} approved by {self.typed_name}"


class LaidOut(models.Model):
    """Ties a task to the finding that it mends, and to what sold it."""

    task = models.ForeignKey("workshop.Task", on_delete=models.PROTECT, related_name="sold_as")
    finding = models.ForeignKey(Finding, on_delete=models.PROTECT, null=True, related_name="tasks")
    option = models.ForeignKey(Option, on_delete=models.PROTECT, null=True, related_name="tasks")
    choice = models.ForeignKey(
        "offers.ChangeChoice", on_delete=models.PROTECT, null=True, related_name="tasks"
    )

    class Meta:
        verbose_name_plural = "laid out"

    def __str__(self) -> str:
        return f"{self.task_id} for {self.finding_id}"
