from __future__ import annotations

from django.db import models


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
