"""Routes: usual ways through the shop, as lists of operations."""

from __future__ import annotations

from django.db import transaction

from shopflow.catalogue.models import Operation, Route, RouteStep
from shopflow.common import clock
from shopflow.common.refusals import Refused
from shopflow.people.models import Person

from .rows import free_code, keep_order, next_place, refuse_unless_rising, shift
from .version import setting_up

Weeks = tuple[int, int, int] | None


@transaction.atomic
def add_route(*, name: str, kind: str, note: str, weeks: Weeks, by: Person) -> Route:
    setting_up(by)
    _refuse_taken(name)
    taken = set(Route.objects.values_list("code", flat=True))
    made = Route(
        code=free_code(name, taken=taken, otherwise="route", most=10),
        position=next_place(Route.objects.all()),
    )
    return _fill(made, name=name, kind=kind, note=note, weeks=weeks)


@transaction.atomic
def change_route(*, route: Route, name: str, kind: str, note: str, weeks: Weeks, by: Person) -> Route:
    setting_up(by)
    _refuse_taken(name, besides=route)
    return _fill(route, name=name, kind=kind, note=note, weeks=weeks)


@transaction.atomic
def retire_route(*, route: Route, by: Person) -> None:
    """It is offered no more; instruments that were started on it keep their work."""
    setting_up(by)
    route.retired_at = clock.now()
    route.save(update_fields=["retired_at"])


@transaction.atomic
def bring_back_route(*, route: Route, by: Person) -> None:
    setting_up(by)
    _refuse_taken(route.name, besides=route)
    route.retired_at = None
    route.save(update_fields=["retired_at"])


@transaction.atomic
def add_step(*, route: Route, operation: Operation, by: Person) -> RouteStep:
    """Put an operation at the end of a route; where it really begins is said by what it comes after."""
    setting_up(by)
    steps = route.steps.select_for_update()
    if steps.filter(operation=operation).exists():
        raise Refused(f"“{operation.name}” is on this route already.", field="operation")
    if operation.hours_for(route.kind) is None:
        raise Refused(
            f"“{operation.name}” has no hours for a {route.kind}, so it is not done on this route.",
            field="operation",
        )
    return RouteStep.objects.create(route=route, operation=operation, position=next_place(steps))


@transaction.atomic
def drop_step(*, step: RouteStep, by: Person) -> None:
    setting_up(by)
    step.delete()


@transaction.atomic
def move_step(*, step: RouteStep, places: int, by: Person) -> None:
    setting_up(by)
    keep_order(shift(list(step.route.steps.select_for_update()), step, places=places))


def _fill(route: Route, *, name: str, kind: str, note: str, weeks: Weeks) -> Route:
    low, likely, high = weeks or (None, None, None)
    if weeks:
        refuse_unless_rising(weeks, what="Weeks", field="weeks_low")
    route.name, route.kind, route.note = name, kind, note
    route.weeks_low, route.weeks_likely, route.weeks_high = low, likely, high
    route.save()
    return route


def _refuse_taken(name: str, *, besides: Route | None = None) -> None:
    others = Route.objects.in_use()
    if besides is not None and besides.pk:
        others = others.exclude(pk=besides.pk)
    if others.filter(name__iexact=name).exists():
        raise Refused(f"There is a route “{name}” already.", field="name")
