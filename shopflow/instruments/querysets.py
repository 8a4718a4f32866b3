from __future__ import annotations

from typing import Any

from django.db import models
from django.db.models import Q


class InstrumentQuerySet(models.QuerySet[Any]):
    def in_the_house(self) -> InstrumentQuerySet:
        return self.filter(left_on=None)

    def gone(self) -> InstrumentQuerySet:
        return self.exclude(left_on=None)

    def matching(self, words: str) -> InstrumentQuerySet:
        """By number first of all, else by maker, serial or owner; every word must be found somewhere."""
        found = self
        for word in words.split():
            found = found.filter(
                Q(number__istartswith=word)
                | Q(maker__icontains=word)
                | Q(serial__icontains=word)
                | Q(customer__name__icontains=word)
            )
        return found
