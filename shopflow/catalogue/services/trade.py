"""What a piano shop usually has, from the fixtures: a start that each shop changes as it likes."""

from __future__ import annotations

import json
from collections.abc import Iterable, Mapping
from typing import Any

from django.conf import settings
from django.db import models, transaction

from shopflow.catalogue.models import (
    Caution,
    ComponentGroup,
    Department,
    FindingKind,
    MaterialBand,
    Operation,
    ReadingKind,
    Remedy,
    Rest,
    Route,
    RouteStep,
    Stage,
)

Fields = dict[str, Any]
_RELATIONS = ("stages", "must", "after", "brings", "cautions")


@transaction.atomic
def load_trade() -> dict[str, int]:
    """Add what is missing of the trade's usual catalogue; returns how many rows of each kind were added.

    A row is missing when nothing in the shop bears its code. What the shop has keeps every change the shop
    made to it: a renamed stage, other hours, a retired department, an operation taken off a route.
    """
    return {
        "departments": _add_coded(Department, "departments"),
        "cautions": _add_coded(Caution, "cautions"),
        "stages": _add_stages(),
        "rests": _add_coded(Rest, "rests"),
        "bands of material": _add_coded(MaterialBand, "materials"),
        "operations": _add_operations(),
        "routes": _add_routes(),
        "component groups": _create(ComponentGroup, _missing(ComponentGroup, _conditions(ComponentGroup))),
        "kinds of finding": _add_finding_kinds(),
        "kinds of reading": _add_reading_kinds(),
    }


def _add_coded(model: type[models.Model], name: str) -> int:
    return _create(model, _missing(model, _fields(name, model)))


def _add_stages() -> int:
    departments, known = _pks(Department), set(Stage.objects.values_list("department__code", "code"))
    rows = [row for row in _fields("stages", Stage) if (*row["department"], row["code"]) not in known]
    homes = {row["department"][0] for row in rows}
    warned = [(_key([*row["department"], row["code"]]), row.pop("cautions", [])) for row in rows]
    made = _create(Stage, [_named(row, department=departments) for row in rows])
    stages, cautions = _stage_pks(), _pks(Caution)
    through = Stage.cautions.through
    through.objects.bulk_create(
        through(stage_id=stages[stage], caution_id=cautions[named[0]])
        for stage, names in warned
        for named in names
    )
    _put_ends_last(homes)
    return made


def _put_ends_last(codes: Iterable[str]) -> None:
    """Where a shop's own stages were joined by the trade's, work still begins on a rack and ends signed."""
    ends = {Stage.Kind.RACKED: 0, Stage.Kind.SIGNED: 2}
    for code in codes:
        stages = list(Stage.objects.filter(department__code=code))
        stages.sort(key=lambda stage: (ends.get(stage.kind, 1), stage.position, stage.pk))
        for place, stage in enumerate(stages):
            stage.position = place
        Stage.objects.bulk_update(stages, ["position"])


def _add_operations() -> int:
    departments, rests = _pks(Department), _pks(Rest)
    rows = _missing(Operation, _fields("operations", Operation))
    plain = [{name: row[name] for name in row if name not in _RELATIONS} for row in rows]
    made = _create(Operation, [_named(row, department=departments, rest=rests) for row in plain])
    operations, stages = _pks(Operation), _stage_pks()
    _relate("stages", "stage_id", rows, operations, stages)
    _relate("cautions", "caution_id", rows, operations, _pks(Caution))
    for relation in ("must", "after", "brings"):
        _relate(relation, "to_operation_id", rows, operations, operations)
    return made


def _relate(
    relation: str, column: str, rows: list[Fields], operations: Mapping[Any, int], others: Mapping[Any, int]
) -> None:
    through = getattr(Operation, relation).through
    origin = "from_operation_id" if column == "to_operation_id" else "operation_id"
    through.objects.bulk_create(
        through(**{origin: operations[row["code"]], column: others[_key(named)]})
        for row in rows
        for named in row.get(relation, ())
    )


def _add_routes() -> int:
    """Steps come only with their route, so that one which the shop took off a route stays off."""
    rows = _missing(Route, _fields("routes", Route))
    new = {row["code"] for row in rows}
    made = _create(Route, rows)
    steps = [row for row in _fields("routes", RouteStep) if row["route"][0] in new]
    routes, operations = _pks(Route), _pks(Operation)
    _create(RouteStep, [_named(row, route=routes, operation=operations) for row in steps])
    return made


def _add_finding_kinds() -> int:
    """Remedies come only with their kind of finding, so that one which the shop took away stays away."""
    rows = _missing(FindingKind, _conditions(FindingKind))
    new = {row["code"] for row in rows}
    groups = _pks(ComponentGroup)
    made = _create(FindingKind, [_named(row, group=groups) for row in rows])
    _add_remedies([row for row in _conditions(Remedy) if row["finding_kind"][0] in new])
    return made


def _add_remedies(remedies: list[Fields]) -> None:
    kinds, operations = _pks(FindingKind), _pks(Operation)
    plain = [{name: row[name] for name in row if name != "operations"} for row in remedies]
    _create(Remedy, [_named(row, finding_kind=kinds) for row in plain])
    remedy_pks = _pks(Remedy)
    Remedy.operations.through.objects.bulk_create(
        Remedy.operations.through(remedy_id=remedy_pks[row["code"]], operation_id=operations[named[0]])
        for row in remedies
        for named in row["operations"]
    )


def _add_reading_kinds() -> int:
    groups = _pks(ComponentGroup)
    at_benches = _fields("bench-readings", ReadingKind)
    rows = _missing(ReadingKind, [*_conditions(ReadingKind), *at_benches])
    return _create(ReadingKind, [_named(row, group=groups) for row in rows])


def _conditions(model: type[models.Model]) -> list[Fields]:
    return _fields("conditions", model)


def _fields(name: str, model: type[models.Model]) -> list[Fields]:
    path = settings.BASE_DIR / "fixtures" / f"{name}.json"
    rows = json.loads(path.read_text(encoding="utf-8"))
    return [row["fields"] for row in rows if row["model"] == model._meta.label_lower]


def _missing(model: type[models.Model], rows: list[Fields]) -> list[Fields]:
    known = _pks(model)
    return [row for row in rows if row["code"] not in known]


def _pks(model: type[models.Model]) -> dict[str, int]:
    return dict(model._default_manager.values_list("code", "pk"))


def _stage_pks() -> dict[Any, int]:
    found = Stage.objects.values_list("department__code", "code", "pk")
    return {(department, code): pk for department, code, pk in found}


def _key(natural: list[str]) -> Any:
    return natural[0] if len(natural) == 1 else tuple(natural)


def _named(row: Fields, **pks: Mapping[Any, int]) -> Fields:
    """The row with the natural keys of these foreign keys turned into ids."""
    ids = {f"{name}_id": known[_key(row[name])] if row[name] else None for name, known in pks.items()}
    return {name: given for name, given in row.items() if name not in pks} | ids


def _create(model: type[models.Model], rows: list[Fields]) -> int:
    return len(model._default_manager.bulk_create(model(**row) for row in rows))
