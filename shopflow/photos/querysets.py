from __future__ import annotations

from typing import Any

from django.db import models


class PhotoQuerySet(models.QuerySet[Any]):
    def shown(self) -> PhotoQuerySet:
        """Without those that were put aside."""
        return self.filter(hidden_at=None)

    def ready(self) -> PhotoQuerySet:
        """Those with copies that can be looked at."""
        return self.shown().filter(state="ready")


class PhotoMarkQuerySet(models.QuerySet[Any]):
    def standing(self) -> PhotoMarkQuerySet:
        """Without those that were struck."""
        return self.filter(struck_at=None)
