"""Days on which the crew differs from its usual week."""

from __future__ import annotations

from django.core.validators import MaxValueValidator, MinValueValidator
from django.db import models
from django.db.models import F, Q


class Span(models.Model):
    """A run of whole days, both ends included."""

    first_day = models.DateField()
    last_day = models.DateField()
    note = models.CharField(max_length=120, blank=True)

    class Meta:
        abstract = True


class Leave(Span):
    """A person is away."""

    person = models.ForeignKey("people.Person", on_delete=models.CASCADE, related_name="leaves")

    class Meta:
        ordering = ["first_day", "pk"]
        constraints = [
            models.CheckConstraint(
                condition=Q(last_day__gte=F("first_day")), name="leave_ends_after_it_begins"
            )
        ]

    def __str__(self) -> str:
        return f"{self.person} away {self.first_day} to {self.last_day}"


class Loan(Span):
    """A person of one department lends a hand in another for a time."""

    person = models.ForeignKey("people.Person", on_delete=models.CASCADE, related_name="loans")
    department = models.ForeignKey("catalogue.Department", on_delete=models.CASCADE, related_name="loans")

    class Meta:
        ordering = ["first_day", "pk"]
        constraints = [
            models.CheckConstraint(
                condition=Q(last_day__gte=F("first_day")), name="loan_ends_after_it_begins"
            )
        ]

    def __str__(self) -> str:
        return f"{self.person} in {self.department} {self.first_day} to {self.last_day}"


class ExtraHours(Span):
    """A person works so many hours more on each working day of a time."""

    person = models.ForeignKey("people.Person", on_delete=models.CASCADE, related_name="extra_hours")
    hours_a_day = models.DecimalField(
        max_digits=3, decimal_places=1, validators=[MinValueValidator(0.5), MaxValueValidator(4)]
    )

    class Meta:
        ordering = ["first_day", "pk"]
        verbose_name_plural = "extra hours"
        constraints = [
            models.CheckConstraint(
                condition=Q(last_day__gte=F("first_day")), name="extra_hours_end_after_they_begin"
            ),
            models.CheckConstraint(
                condition=Q(hours_a_day__gt=0, hours_a_day__lte=4), name="extra_hours_are_up_to_four"
            ),
        ]

    def __str__(self) -> str:
        return f"{self.person} {self.hours_a_day} h more {self.first_day} to {self.last_day}"
