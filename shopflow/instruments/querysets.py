from __future__ import annotations

from typing import Any

from django.db import models
from django.db.models import Q


class InstrumentQuerySet(models.QuerySet[Any]):
    def in_the_house(self) -> InstrumentQuerySet:
        return self.filter(left_on=None)

    def gone(self) -> InstrumentQuerySet:
        return self.exclude(left_on=None)

    def matching(self, words: str, *, by_owner: bool = False) -> InstrumentQuerySet:
        """By number, maker or serial, and by owner for those who may see owners; every word must be found."""
        found = self
        for word in words.split():
            here = Q(number__istartswith=word) | Q(maker__icontains=word) | Q(serial__icontains=word)
            found = found.filter(here | Q(customer__name__icontains=word) if by_owner else here)
        return found


class CrateQuerySet(models.QuerySet[Any]):
    def in_use(self) -> CrateQuerySet:
        return self.exclude(state="emptied")
