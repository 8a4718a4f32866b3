from __future__ import annotations

from datetime import datetime
from typing import Any

from django.db import models

from shopflow.catalogue.models import Stage
from shopflow.photos.models import Photo


class TaskQuerySet(models.QuerySet[Any]):
    def in_the_job(self) -> TaskQuerySet:
        """Without what was dropped."""
        return self.filter(dropped_at=None)

    def open(self) -> TaskQuerySet:
        return self.in_the_job().exclude(stage__kind=Stage.Kind.SIGNED)

    def signed(self) -> TaskQuerySet:
        return self.in_the_job().filter(stage__kind=Stage.Kind.SIGNED)

    def before_leaving(self) -> TaskQuerySet:
        return self.filter(at_the_owners=False)


class SnagQuerySet(models.QuerySet[Any]):
    def open(self) -> SnagQuerySet:
        return self.filter(cleared_at=None)

    def open_at(self, moment: datetime) -> SnagQuerySet:
        """Those that stopped something at a moment."""
        return self.filter(models.Q(cleared_at=None) | models.Q(cleared_at__gt=moment), raised_at__lte=moment)


class TaskPhotoQuerySet(models.QuerySet[Any]):
    def that_show(self) -> TaskPhotoQuerySet:
        """Without those that turned out not to open or were put aside: they prove nothing."""
        return self.exclude(photo__state=Photo.State.REFUSED).filter(photo__hidden_at=None)
