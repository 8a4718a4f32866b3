from __future__ import annotations

from typing import Any

from django.db import models


class InUseQuerySet(models.QuerySet[Any]):
    def in_use(self) -> InUseQuerySet:
        """Without what the shop has retired; retired rows stay for the work that still stands in them."""
        return self.filter(retired_at=None)


class CodedManager(models.Manager[Any]):
    def get_by_natural_key(self, code: str) -> Any:
        return self.get(code=code)


class StageManager(models.Manager[Any]):
    def get_by_natural_key(self, department: str, code: str) -> Any:
        return self.get(department__code=department, code=code)
