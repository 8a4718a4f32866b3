from __future__ import annotations

from datetime import datetime

from django.db import models

from shopflow.common import clock


class Customer(models.Model):
    """Whose instrument it is. Bench pages never show any of this."""

    name = models.CharField(max_length=80)
    email = models.EmailField(blank=True)
    phone = models.CharField(max_length=40, blank=True)
    address = models.TextField(max_length=400, blank=True)
    note = models.TextField(max_length=1000, blank=True)

    class Meta:
        ordering = ["name", "pk"]

    def __str__(self) -> str:
        return self.name


class PrivateLink(models.Model):
    """A way for one customer to see one instrument. Only the fingerprint of its secret is kept."""

    instrument = models.ForeignKey(
        "instruments.Instrument", on_delete=models.PROTECT, related_name="private_links"
    )
    # Whose the instrument was when the link was made: once it is somebody else's, the link opens nothing.
    customer = models.ForeignKey(
        Customer, on_delete=models.PROTECT, null=True, related_name="private_links", editable=False
    )
    fingerprint = models.CharField(max_length=64, unique=True, editable=False)
    for_whom = models.CharField(max_length=80, blank=True)
    made_by = models.ForeignKey("people.Person", on_delete=models.PROTECT, related_name="+")
    made_at = models.DateTimeField(default=clock.now, editable=False)
    expires_at = models.DateTimeField()
    revoked_at = models.DateTimeField(null=True, blank=True, editable=False)
    revoked_by = models.ForeignKey(
        "people.Person", on_delete=models.PROTECT, null=True, blank=True, related_name="+", editable=False
    )
    # The key of the form that made it, so that a form sent twice makes one.
    key = models.CharField(max_length=64, blank=True, editable=False)

    class Meta:
        ordering = ["-made_at", "-pk"]
        constraints = [
            models.UniqueConstraint(
                fields=["instrument", "key"], condition=~models.Q(key=""), name="one_link_per_form"
            )
        ]

    def __str__(self) -> str:
        return f"link to {self.instrument.number} for {self.for_whom or 'its owner'}"

    def is_live(self, now: datetime) -> bool:
        return self.revoked_at is None and now < self.expires_at and not self.is_of_an_earlier_owner

    @property
    def is_of_an_earlier_owner(self) -> bool:
        return self.customer_id is not None and self.customer_id != self.instrument.customer_id


class LinkVisit(models.Model):
    """When a private link was last used to look at the customer's page."""

    link = models.OneToOneField(PrivateLink, on_delete=models.CASCADE, related_name="visit")
    last_at = models.DateTimeField(default=clock.now)

    def __str__(self) -> str:
        return f"{self.link} opened {self.last_at:%Y-%m-%d %H:%M}"


class WrongLink(models.Model):
    """How many private links that lead nowhere were tried from one address lately: one row for each."""

    device = models.CharField(max_length=80, unique=True)
    began_at = models.DateTimeField(default=clock.now)
    count = models.PositiveIntegerField(default=1)

    def __str__(self) -> str:
        return f"{self.count} wrong links from {self.device}"
