"""Questions about what the shop has."""

from __future__ import annotations

from django.db.models import Exists, OuterRef, Q

from shopflow.catalogue.models import Department, Operation, Route, Shop, Stage


def the_shop() -> Shop:
    """The shop's own row; before set-up, a nameless one with the defaults."""
    return Shop.objects.filter(pk=1).first() or Shop(pk=1, name="The workshop")


def departments() -> list[Department]:
    """Those in use, and retired ones as long as open work stands in them: no bench may lose sight of it."""
    open_work = Stage.objects.filter(
        department=OuterRef("pk"),
        tasks__isnull=False,
        tasks__dropped_at=None,
        tasks__instrument__left_on=None,
    ).exclude(kind=Stage.Kind.SIGNED)
    return list(Department.objects.filter(Q(retired_at=None) | Exists(open_work)))


def stages_by_id() -> dict[int, Stage]:
    """All stages, the retired ones too, since tasks may still stand in them. One query."""
    return {stage.pk: stage for stage in Stage.objects.select_related("department")}


def operations_of(route: Route) -> list[Operation]:
    """The operations of a route in its order, without those that the shop has retired since."""
    steps = route.steps.filter(operation__retired_at=None, operation__department__retired_at=None)
    return [step.operation for step in steps.select_related("operation")]


def is_on_a_path(stage: Stage) -> bool:
    """Whether any task, past or present, was laid out through this stage."""
    paths = stage.department.tasks.values_list("path", flat=True)
    return any(stage.pk in path for path in paths.iterator())
