"""What the pages of the set-up show."""

from __future__ import annotations

from collections.abc import Callable, Iterable
from dataclasses import dataclass, field
from decimal import Decimal
from itertools import groupby
from typing import Any
from urllib.parse import urlencode

from django.db.models import Count, F, Q, QuerySet

from shopflow.catalogue.knowledge import knowledge
from shopflow.catalogue.models import (
    Caution,
    ComponentGroup,
    Department,
    FindingKind,
    MaterialBand,
    Operation,
    Remedy,
    Rest,
    Route,
    RouteStep,
    Stage,
    StateLine,
    StepLine,
)
from shopflow.compute.errors import ComputeError

_IN_THE_HOUSE = Q(tasks__isnull=False, tasks__dropped_at=None, tasks__instrument__left_on=None)


@dataclass(frozen=True, slots=True)
class Placed:
    """A row of an ordered list, and whether it can go up or down in it."""

    row: Any
    rises: bool
    sinks: bool


@dataclass(frozen=True, slots=True)
class Listed:
    """What is in use, in its order, and what was retired."""

    in_use: list[Placed]
    retired: list[Any]


def departments_with_work() -> Listed:
    """All departments, each with its open tasks and its operations counted."""
    is_open = _IN_THE_HOUSE & ~Q(tasks__stage__kind=Stage.Kind.SIGNED)
    return _listed(
        Department.objects.annotate(
            open_tasks=Count("tasks", filter=is_open, distinct=True),
            operations_in_use=Count("operations", filter=Q(operations__retired_at=None), distinct=True),
        ).order_by("position", "code")
    )


def stages_with_work(department: Department) -> Listed:
    """The department's stages, each with the tasks standing in it now; racks stay first, signatures last."""
    stages = department.stages.select_related("department").annotate(
        standing=Count("tasks", filter=_IN_THE_HOUSE)
    )
    stages = stages.order_by("position", "pk")
    return _listed(stages, part=lambda stage: {"racked": 0, "signed": 2}.get(stage.kind, 1))


def _listed(rows: Iterable[Any], *, part: Callable[[Any], int] = lambda row: 0) -> Listed:
    """Rows in use may change places with a neighbour of the same part of the list."""
    known = list(rows)
    use = [row for row in known if row.retired_at is None]
    parts = [-1, *(part(row) for row in use), -1]
    placed = [
        Placed(row, parts[at] == parts[at + 1], parts[at + 2] == parts[at + 1]) for at, row in enumerate(use)
    ]
    return Listed(placed, [row for row in known if row.retired_at is not None])


@dataclass(frozen=True, slots=True)
class Asked:
    """Which operations are wanted: with all these words, of one department, in use or retired."""

    words: str = ""
    department: str = ""
    retired: bool = False

    @property
    def address(self) -> str:
        """The question as the end of an address, to which a page number can be added."""
        given = {"search": self.words, "department": self.department, "show": self.retired and "retired"}
        return "?" + "".join(f"{urlencode({name: value})}&" for name, value in given.items() if value)


def operations_like(asked: Asked) -> QuerySet[Operation]:
    """By department; a word may stand in the name, the code or the description."""
    found = Operation.objects.select_related("department", "rest")
    found = found.filter(retired_at__isnull=not asked.retired)
    if asked.department:
        found = found.filter(department__code=asked.department)
    for word in asked.words.split()[:8]:
        found = found.filter(Q(name__icontains=word) | Q(code__icontains=word) | Q(what__icontains=word))
    return found


def operations_in_use() -> list[Operation]:
    return list(Operation.objects.in_use().select_related("department"))


@dataclass(frozen=True, slots=True)
class Line:
    """One operation on a route, with its hours for the kind of instrument the route is for."""

    step: RouteStep
    hours: tuple[Decimal, Decimal, Decimal] | None
    rises: bool = True
    sinks: bool = True

    @property
    def is_left_out(self) -> str:
        """Why nothing will be laid out for this line; empty when something will."""
        operation = self.step.operation
        if operation.retired_at:
            return "retired"
        if operation.department.retired_at:
            return f"{operation.department.name} is retired"
        return "" if self.hours else f"no hours for a {self.step.route.kind}"


@dataclass(frozen=True, slots=True)
class RouteSheet:
    """A route with its lines, the sums of its planning hours, and what the state says of it."""

    route: Route
    lines: list[Line]
    missing: list[tuple[str, str]] = field(default_factory=list)
    objections: list[str] = field(default_factory=list)

    @property
    def total(self) -> tuple[Decimal, ...]:
        counted = [line.hours for line in self.lines if line.hours and not line.is_left_out]
        return tuple(sum(column, Decimal(0)) for column in zip(*counted, strict=True)) or (Decimal(0),) * 3


def route_sheet(route: Route) -> RouteSheet:
    """A route's page in a fixed number of queries."""
    steps = route.steps.select_related("operation__department")
    lines = _lines(route, list(steps))
    missing, objections = _judged([line.step.operation.code for line in lines if not line.is_left_out], route)
    return RouteSheet(route, lines, missing, objections)


def _judged(codes: list[str], route: Route) -> tuple[list[tuple[str, str]], list[str]]:
    """What this work still needs, each with why; and what is asked for in vain or contradicts itself."""
    known = knowledge(route.kind)
    try:
        whole = known.complete([code for code in codes if code in known.codes])
    except ComputeError as error:
        return [], [f"This can never be done as it stands: {error.given}."]
    added = [code for code in whole.operations if code not in codes]
    missing = [(known.name(code), "; ".join(whole.reasons.get(code, ())[:2])) for code in added]
    told = dict(known.in_vain(codes))
    gone = [code for code in codes if code in known.codes and code not in whole.operations]
    return missing, [told.get(code) or f"“{known.name(code)}” is needless here." for code in gone]


def _lines(route: Route, steps: list[RouteStep]) -> list[Line]:
    for step in steps:
        step.route = route
    last = len(steps) - 1
    return [
        Line(step, step.operation.hours_for(route.kind), rises=place > 0, sinks=place < last)
        for place, step in enumerate(steps)
    ]


def routes_with_hours() -> list[RouteSheet]:
    """Every route with its sums, the retired ones last."""
    retired_last = F("retired_at").asc(nulls_first=True)
    routes = Route.objects.order_by(retired_last, "position", "code").prefetch_related(
        "steps__operation__department"
    )
    return [RouteSheet(route, _lines(route, list(route.steps.all()))) for route in routes]


def can_join(route: Route, present: Iterable[int]) -> list[Operation]:
    """Operations in use that could be put on this route: done on its kind, and not on it yet."""
    here = set(present)
    return [one for one in operations_in_use() if one.pk not in here and one.hours_for(route.kind)]


def cautions_with_work() -> QuerySet[Caution]:
    return Caution.objects.annotate(used_by=Count("operations")).order_by("title")


def rests_with_work() -> QuerySet[Rest]:
    return Rest.objects.annotate(used_by=Count("operation")).order_by("name")


def bands_with_work() -> list[tuple[MaterialBand, int]]:
    """Each band with the operations that take it; two queries."""
    counts = Operation.objects.in_use().values("materials").annotate(count=Count("pk")).order_by()
    used = {row["materials"]: row["count"] for row in counts}
    return [(band, used.get(band.code, 0)) for band in MaterialBand.objects.all()]


def finding_kinds_by_group() -> list[tuple[ComponentGroup, list[FindingKind]]]:
    """Every group with its kinds of finding, in use before retired, each with its remedies counted."""
    counted = FindingKind.objects.annotate(
        remedies_in_use=Count("remedies", filter=Q(remedies__retired_at=None))
    )
    ordered = counted.select_related("group").order_by(
        "group__position", "group__pk", F("retired_at").asc(nulls_first=True), "position", "code"
    )
    return [(group, list(kinds)) for group, kinds in groupby(ordered, key=lambda kind: kind.group)]


def remedies_of(kind: FindingKind) -> Listed:
    """The lightest first, with their operations; four queries."""
    rows = kind.remedies.prefetch_related("operations", "besides_upright", "besides_grand")
    return _listed(rows.order_by("position", "pk"))


def work_on_lines() -> dict[str, Any]:
    """Every line of state and of steps, each with the operations that speak of it counted; three queries."""
    states = [state for state in Operation.objects.in_use().values_list("state", flat=True) if state]
    verbs = ("needs", "opens", "spoils", "leaves")
    lines = [
        (line, sum(any(line.code in state.get(verb, {}) for verb in verbs) for state in states))
        for line in StateLine.objects.all()
    ]
    steps = [
        (row, sum(row.code in state.get("step", {}) for state in states)) for row in StepLine.objects.all()
    ]
    return {"lines": lines, "steps": steps}


def how_much_there_is() -> dict[str, int]:
    """What the door of the set-up counts."""
    return {
        "departments": Department.objects.in_use().count(),
        "stages": Stage.objects.in_use().filter(department__retired_at=None).count(),
        "operations": Operation.objects.in_use().count(),
        "routes": Route.objects.in_use().count(),
        "cautions": Caution.objects.count(),
        "rests": Rest.objects.count(),
        "lines": StateLine.objects.count(),
        "to_look_at": Operation.objects.in_use().filter(state_to_look_at=True).count(),
        "findings": FindingKind.objects.in_use().count(),
        "remedies": Remedy.objects.in_use().filter(finding_kind__retired_at=None).count(),
        "bands": MaterialBand.objects.count(),
    }
