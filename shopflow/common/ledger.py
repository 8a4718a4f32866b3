"""Rows that are only ever added: what a ledger is made of."""

from __future__ import annotations

from django.db import models


class AddedOnly(models.QuerySet["models.Model"]):
    """The ledger has no way to change or take away a line."""

    def update(self, **_: object) -> int:
        raise TypeError("ledger lines are only ever added")

    def delete(self) -> tuple[int, dict[str, int]]:
        raise TypeError("ledger lines are only ever added")


class LedgerLine(models.Model):
    class Meta:
        abstract = True

    def save(self, *args: object, **kwargs: object) -> None:
        if not self._state.adding:
            raise TypeError("ledger lines are only ever added")
        super().save(*args, **kwargs)  # type: ignore[arg-type]

    def delete(self, *_: object, **__: object) -> tuple[int, dict[str, int]]:
        raise TypeError("ledger lines are only ever added")
