"""Questions about what the shop has."""

from __future__ import annotations

from .models import Department, Shop, Stage


def the_shop() -> Shop:
    """The shop's own row; before set-up, a nameless one with the defaults."""
    return Shop.objects.filter(pk=1).first() or Shop(pk=1, name="The workshop")


def departments() -> list[Department]:
    return list(Department.objects.in_use())


def stages_by_id() -> dict[int, Stage]:
    """All stages, the retired ones too, since tasks may still stand in them. One query."""
    return {stage.pk: stage for stage in Stage.objects.select_related("department")}
