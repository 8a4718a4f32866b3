"""What the shop's catalogue knows of a piano's state, in the shape that `compute/worknet` reads."""

from __future__ import annotations

import logging
from collections import defaultdict
from collections.abc import Callable
from functools import lru_cache, partial
from typing import Any

from django.apps import apps
from django.db.models import Model

from shopflow.compute.errors import ComputeError
from shopflow.compute.worknet import Knowledge

from .given_out import SAFE_STATE, all_in_use, as_given_out
from .models import (
    Department,
    FindingKind,
    MaterialBand,
    Operation,
    Remedy,
    Rest,
    Route,
    RouteStep,
    Shop,
)

log = logging.getLogger(__name__)
Facts = dict[str, Any]
FLAGS = ("place", "clears_itself", "stays_at_top", "by_part")
ASPECTS = ("safety", "playing", "tone", "looks", "durability")
HOURS = ("low", "likely", "high")
SIDES = ("upright", "grand")


def knowledge(kind: str) -> Knowledge:
    """What is known of uprights or of grands; kept in memory for as long as the catalogue bears its mark."""
    version = Shop.objects.values_list("catalogue_version", flat=True).first()
    return _kept(kind, version) if version else _load(kind)


@lru_cache(maxsize=8)
def _kept(kind: str, version: str) -> Knowledge:
    return _load(kind)


def _load(kind: str) -> Knowledge:
    """A catalogue that contradicts itself stops no work: what was given out stands in until it is mended."""
    facts = knowledge_data()
    if not facts["lines"]:
        return Knowledge.load(_nothing_known(facts), kind)
    for stand_in in (dict, all_in_use):
        try:
            return Knowledge.load(stand_in(facts), kind)
        except ComputeError as error:
            log.warning("The catalogue contradicts itself: %s", error)
    return Knowledge.load(as_given_out(facts), kind)


def _nothing_known(facts: Facts) -> Facts:
    """For a shop that has no lines of state: its work is known by name, and follows only its own wishes."""
    known = ("name", "department", "materials", *SIDES, "also", "after", "in_every_job", "retired")
    plain = {
        code: {name: row[name] for name in known if name in row} for code, row in facts["operations"].items()
    }
    return {**facts, "lines": {}, "steps": {}, "steps_by_part": [], "common": {}, "operations": plain}


def knowledge_data() -> Facts:
    """The shop's rows as plain facts: a fixed number of queries, codes for names throughout."""
    lines = state_lines(partial(apps.get_model, "catalogue"))
    operations = {row.code: operation_facts(row) for row in _operations()}
    library = [_remedy(row) for row in _remedies()]
    kinds = list(FindingKind.objects.in_use().select_related("group").prefetch_related("forbids"))
    return {
        **lines,
        "rates": {row.code: float(row.rate) for row in Department.objects.all()},
        "materials": {row.code: float(row.likely) for row in MaterialBand.objects.all()},
        "rests": {row.code: _three(row, "hours") for row in Rest.objects.all()},
        "operations": operations,
        "stops": {kind.code: kind.stops for kind in kinds if kind.stops},
        "forbids": {kind.code: codes for kind in kinds if (codes := _codes(kind.forbids.all()))},
        "findings": {kind.code: _finding(kind) for kind in kinds},
        "library": library,
        "remedies": {row["code"]: row["operations"] for row in library},
        "routes": _routes(),
    }


def operation_facts(operation: Operation) -> Facts:
    """One operation as the state reads it; a shop's own that says nothing yet gets what does no harm."""
    facts: Facts = {
        "name": operation.name,
        "department": operation.department.code,
        "materials": operation.materials,
        "rest": operation.rest.code if operation.rest else None,
        "outside_cost": float(operation.outside_cost),
        "in_every_job": operation.in_every_job,
        "at_the_owners": operation.at_the_owners,
    }
    hours = {side: _three(operation, side) for side in SIDES}
    retired = {"retired": True} if operation.retired_at else {}
    return facts | hours | retired | (operation.state or SAFE_STATE)


def _operations() -> Any:
    return Operation.objects.select_related("department", "rest").order_by("code")


def _remedies() -> Any:
    rows = Remedy.objects.in_use().filter(finding_kind__retired_at=None).select_related("finding_kind")
    return rows.prefetch_related("operations", "besides_grand", "besides_upright").order_by("code")


def state_lines(model_of: Callable[[str], Any]) -> Facts:
    """Lines, steps, parts and sorts of work; of the models as they are, or as they were for a migration."""
    steps, parts = list(model_of("StepLine").objects.all()), list(model_of("KeptPart").objects.all())
    return {
        "lines": {row.code: _line(row) for row in model_of("StateLine").objects.all()},
        "steps": {row.code: row.steps for row in steps},
        "steps_by_part": sorted(row.code for row in steps if row.by_part),
        "parts": {row.code: row.goes_with for row in parts if row.goes_with},
        "words": {row.code: row.words for row in parts if row.words},
        "common": {row.code: _filled(row, "needs", "spoils") for row in model_of("WorkSort").objects.all()},
    }


def _line(row: Any) -> Facts:
    facts = {name: getattr(row, name) for name in ("name", "levels", "found", "goal", "say")}
    return facts | dict.fromkeys([flag for flag in FLAGS if getattr(row, flag)], True)


def _finding(kind: FindingKind) -> Facts:
    weights = {aspect: getattr(kind, aspect) for aspect in ASPECTS}
    return {"name": kind.name, "stops": kind.stops, "group": kind.group.code, **weights}


def _remedy(row: Remedy) -> Facts:
    common = set(_codes(row.operations.all()))
    by_kind = {
        "upright": sorted(common | set(_codes(row.besides_upright.all()))),
        "grand": sorted(common | set(_codes(row.besides_grand.all()))),
    }
    same = by_kind["upright"] == by_kind["grand"]
    return {
        "code": row.code,
        "finding": row.finding_kind.code,
        "name": row.name,
        "kind": row.kind,
        "cures": row.cures,
        "only_for": row.only_for,
        "position": row.position,
        "operations": by_kind["grand"] if same else by_kind,
    }


def _routes() -> Facts:
    steps = defaultdict(list)
    rows = RouteStep.objects.filter(operation__retired_at=None).order_by("position")
    for code, operation in rows.values_list("route__code", "operation__code"):
        steps[code].append(operation)
    kinds = Route.objects.in_use().values_list("code", "kind")
    return {code: {"kind": kind, "operations": steps[code]} for code, kind in kinds}


def _codes(rows: Any) -> list[str]:
    return sorted(row.code for row in rows)


def _filled(row: Any, *names: str) -> Facts:
    return {name: given for name in names if (given := getattr(row, name))}


def _three(row: Model, side: str) -> list[float] | None:
    figures = [getattr(row, f"{side}_{step}") for step in HOURS]
    return None if None in figures else [float(figure) for figure in figures]
