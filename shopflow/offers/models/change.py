"""Change orders: a finding after teardown, what can be done about it, and the customer's answer."""

from __future__ import annotations

from django.db import models
from django.db.models import Q

from shopflow.catalogue.models import Terms
from shopflow.catalogue.models.work import MONEY
from shopflow.common import clock
from shopflow.instruments.models import Finding


class ChangeOrder(models.Model):
    """Something that nobody could see before. Only the tasks that it touches stop, with a snag."""

    class State(models.TextChoices):
        DRAFT = "draft", "being written"
        SENT = "sent", "waiting for the customer"
        SETTLED = "settled", "settled"
        WITHDRAWN = "withdrawn", "withdrawn"

    instrument = models.ForeignKey(
        "instruments.Instrument", on_delete=models.PROTECT, related_name="change_orders"
    )
    number = models.PositiveSmallIntegerField(editable=False)
    finding = models.ForeignKey(Finding, on_delete=models.PROTECT, related_name="change_orders")
    what = models.CharField("what it is, in plain words", max_length=400)
    why_hidden = models.CharField("why it could not be seen before", max_length=400)
    photo = models.ForeignKey(
        "photos.Photo", on_delete=models.PROTECT, null=True, blank=True, related_name="+"
    )
    decide_by = models.DateField()
    # The terms of that moment: a later change of them leaves what was asked alone.
    policy = models.CharField(max_length=5, choices=Terms.Surprise.choices)
    policy_percent = models.PositiveSmallIntegerField("extras without asking, up to, %", default=0)
    moves_promise = models.BooleanField("the promised day moves by the days of the answer", default=True)
    stops = models.ManyToManyField("workshop.Task", related_name="+", blank=True)
    state = models.CharField(max_length=9, choices=State.choices, default=State.DRAFT, editable=False)
    frozen = models.JSONField(null=True, editable=False)
    fingerprint = models.CharField(max_length=64, blank=True, editable=False)
    edition = models.PositiveIntegerField(default=1, editable=False)
    snags = models.ManyToManyField("workshop.Snag", related_name="change_orders", blank=True)
    made_by = models.ForeignKey("people.Person", on_delete=models.PROTECT, related_name="+")
    made_at = models.DateTimeField(default=clock.now, editable=False)
    sent_at = models.DateTimeField(null=True, editable=False)
    # Whose the piano was then: what was said to one owner is no business of the next.
    customer = models.ForeignKey(
        "customers.Customer", on_delete=models.PROTECT, null=True, related_name="+", editable=False
    )
    settled_at = models.DateTimeField(null=True, editable=False)

    class Meta:
        ordering = ["instrument", "number"]
        constraints = [
            models.UniqueConstraint(fields=["instrument", "number"], name="change_orders_are_numbered"),
            models.UniqueConstraint(
                fields=["finding"],
                condition=Q(state__in=["draft", "sent"]),
                name="one_open_change_order_per_finding",
            ),
            models.CheckConstraint(
                condition=~Q(state__in=["sent", "settled"]) | ~Q(fingerprint=""),
                name="what_was_asked_has_a_fingerprint",
            ),
        ]

    def __str__(self) -> str:
        return f"change order {self.instrument.number}/{self.number}"


class ChangeChoice(models.Model):
    """One answer that the customer may give: do it, do it the cheaper way, leave it."""

    class Kind(models.TextChoices):
        DO = "do", "do it"
        CHEAPER = "cheaper", "do it the cheaper way"
        LEAVE = "leave", "leave it as found"

    change = models.ForeignKey(ChangeOrder, on_delete=models.CASCADE, related_name="choices")
    kind = models.CharField(max_length=7, choices=Kind.choices)
    remedy = models.ForeignKey(
        "catalogue.Remedy", on_delete=models.PROTECT, null=True, blank=True, related_name="+"
    )
    words = models.CharField(max_length=400)
    consequence = models.CharField("what to expect", max_length=400, blank=True)
    price = models.DecimalField(max_digits=9, decimal_places=2, default=0, validators=MONEY)
    cost = models.DecimalField(max_digits=9, decimal_places=2, default=0, validators=MONEY)
    hours = models.DecimalField(max_digits=6, decimal_places=1, default=0)
    # What has to be opened, closed and done again for it, each with its reason.
    besides = models.JSONField("what else it takes, and why", default=list)
    in_vain = models.JSONField("names of finished work that it throws away", default=list)
    # What of the open work falls away with it is taken off the price already.
    credit = models.DecimalField(max_digits=9, decimal_places=2, default=0, validators=MONEY)
    falls_away = models.JSONField("names of the work that falls away", default=list)
    price_reason = models.CharField("why it costs less than it costs us", max_length=200, blank=True)
    price_later = models.DecimalField(
        "if it is done later", max_digits=9, decimal_places=2, null=True, blank=True, validators=MONEY
    )
    days_low = models.PositiveSmallIntegerField("later by, days", null=True, blank=True)
    days_high = models.PositiveSmallIntegerField(null=True, blank=True)
    position = models.PositiveSmallIntegerField(default=0)

    class Meta:
        ordering = ["change", "position", "pk"]

    def __str__(self) -> str:
        return f"{self.get_kind_display()}: {self.words}"


class ChangeAnswer(models.Model):
    """What was decided, by whom, on which words. Never changed."""

    change = models.OneToOneField(ChangeOrder, on_delete=models.PROTECT, related_name="answer")
    choice = models.ForeignKey(ChangeChoice, on_delete=models.PROTECT, related_name="+")
    typed_name = models.CharField(max_length=80)
    fingerprint = models.CharField(max_length=64)
    link = models.ForeignKey(
        "customers.PrivateLink", on_delete=models.PROTECT, null=True, blank=True, related_name="+"
    )
    entered_by = models.ForeignKey(
        "people.Person", on_delete=models.PROTECT, null=True, blank=True, related_name="+"
    )
    # The shop decided by itself, as the terms of that moment allow; the customer is told.
    by_policy = models.BooleanField(default=False)
    at = models.DateTimeField(default=clock.now, editable=False)

    class Meta:
        ordering = ["-at"]
        constraints = [
            models.CheckConstraint(
                condition=Q(link__isnull=False) | Q(entered_by__isnull=False),
                name="an_answer_came_by_somebody",
            )
        ]

    def __str__(self) -> str:
        return f"{self.change}: {self.choice.get_kind_display()}"
