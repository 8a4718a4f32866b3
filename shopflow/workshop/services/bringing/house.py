"""What the shop has, by the names people use for it; read once for a whole file, in a few queries."""

from __future__ import annotations

import difflib
from dataclasses import dataclass, field

from shopflow.catalogue.models import Department, Operation, Route, Stage
from shopflow.common.refusals import Refused
from shopflow.customers.models import Customer
from shopflow.instruments import serials
from shopflow.instruments.models import Instrument
from shopflow.workshop.services import layout

from .columns import named
from .values import NotAllowed


@dataclass(slots=True)
class House:
    """The catalogue by name, and the instruments and customers that are known already."""

    departments: dict[str, Department] = field(default_factory=dict)
    operations: dict[str, list[Operation]] = field(default_factory=dict)
    routes: dict[str, Route] = field(default_factory=dict)
    of_route: dict[int, list[Operation]] = field(default_factory=dict)
    numbers: dict[str, str] = field(default_factory=dict)
    serials: dict[str, list[str]] = field(default_factory=dict)
    customers: list[Customer] = field(default_factory=list)
    _paths: dict[tuple[str, int], list[Stage]] = field(default_factory=dict)
    _plans: dict[tuple[int, str], layout.JobPlan] = field(default_factory=dict)

    @classmethod
    def as_it_is(cls) -> House:
        house = cls()
        house._read_catalogue()
        for number, serial in Instrument.objects.values_list("number", "serial"):
            house.numbers[number.casefold()] = number
            if serial:
                house.serials.setdefault(serials.plain(serial), []).append(number)
        house.customers = list(Customer.objects.only("name", "email", "phone").order_by("pk"))
        return house

    def _read_catalogue(self) -> None:
        for department in Department.objects.in_use().prefetch_related("stages"):
            for name in (department.code, department.mark, department.name):
                self.departments[named(name)] = department
        operations = (
            Operation.objects.in_use()
            .filter(department__retired_at=None)
            .select_related("department", "rest")
            .prefetch_related("stages")
        )
        by_pk = {operation.pk: operation for operation in operations}
        for operation in by_pk.values():
            for name in {named(operation.code), named(operation.name)}:
                self.operations.setdefault(name, []).append(operation)
        for route in Route.objects.in_use().prefetch_related("steps"):
            self.routes[named(route.code)] = self.routes[named(route.name)] = route
            steps = route.steps.all()
            self.of_route[route.pk] = [
                by_pk[step.operation_id] for step in steps if step.operation_id in by_pk
            ]

    def department(self, typed: str) -> Department:
        try:
            return self.departments[named(typed)]
        except KeyError as unknown:
            names = dict.fromkeys(department.name for department in self.departments.values())
            raise NotAllowed(f"one of your departments: {', '.join(names)}") from unknown

    def route(self, typed: str) -> Route:
        try:
            return self.routes[named(typed)]
        except KeyError as unknown:
            codes = dict.fromkeys(f"{route.code} ({route.name})" for route in self.routes.values())
            raise NotAllowed(
                f"one of your routes: {', '.join(codes)}" if codes else "nothing: the shop has no routes"
            ) from unknown

    def operation(self, typed: str, department: Department | None) -> Operation | None:
        """The operation of this code or name, at this department if one is given; None if there is none."""
        found = self.operations.get(named(typed), [])
        here = [one for one in found if department is None or one.department_id == department.pk]
        if len(here) > 1:
            codes = " or ".join(one.code for one in here)
            raise NotAllowed(f"{codes}: several operations have this name, so give the code")
        if found and not here:
            where = " or ".join(one.department.name for one in found)
            raise NotAllowed(f"“{found[0].name}” at {where}, where it belongs")
        return here[0] if here else None

    def like(self, typed: str) -> str:
        """An operation whose name is nearly this, to ask whether it was meant."""
        near = difflib.get_close_matches(named(typed), self.operations, n=1, cutoff=0.75)
        return f"; did you mean “{self.operations[near[0]][0].name}”?" if near else ""

    def path_of(self, operation: Operation) -> list[Stage]:
        key = ("operation", operation.pk)
        if key not in self._paths:
            self._paths[key] = self._path(operation.stages.all(), operation.name)
        return self._paths[key]

    def plan_of(self, route: Route, kind: str) -> layout.JobPlan:
        """The whole job of a route on this kind of instrument."""
        key = (route.pk, kind)
        if key not in self._plans:
            try:
                self._plans[key] = layout.plan_job(self.of_route.get(route.pk, []), kind=kind)
            except Refused as refused:
                raise NotAllowed(f"a route that can be laid out. {refused.message}") from refused
        return self._plans[key]

    def path_at(self, department: Department) -> list[Stage]:
        """All stages of a department: the way of a task in the shop's own words."""
        key = ("department", department.pk)
        if key not in self._paths:
            self._paths[key] = self._path(department.stages.all(), department.name)
        return self._paths[key]

    def _path(self, stages: object, name: str) -> list[Stage]:
        try:
            return layout.path_through(stages, named=name)  # type: ignore[arg-type]
        except Refused as refused:
            raise NotAllowed(f"a task that can be laid out. {refused.message}") from refused
