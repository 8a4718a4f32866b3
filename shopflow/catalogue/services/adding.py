"""Rows of the fixtures that a shop lacks, by their codes; used by the loader and by upgrades alike."""

from __future__ import annotations

import json
from collections.abc import Callable, Iterable, Mapping
from itertools import groupby
from typing import Any

from django.conf import settings
from django.db import models

Fields = dict[str, Any]
Model = type[models.Model]
STATE = {
    "lines of state": "StateLine",
    "lines of steps": "StepLine",
    "parts": "KeptPart",
    "sorts of work": "WorkSort",
}
ENDS = {"racked": 0, "signed": 2}


class Adding:
    """`model_of` names models as they are now, or as they were at the time of a migration."""

    def __init__(self, model_of: Callable[[str], Any]) -> None:
        self._model = model_of

    def everything(self) -> dict[str, int]:
        return {
            "departments": self._coded("Department", "departments"),
            "cautions": self._coded("Caution", "cautions"),
            "stages": self.stages(),
            "rests": self._coded("Rest", "rests"),
            "bands of material": self._coded("MaterialBand", "materials"),
            **{kind: self._coded(name, "state") for kind, name in STATE.items()},
            "operations": self.operations(),
            "routes": self.routes(),
            "component groups": self._coded("ComponentGroup", "conditions"),
            "kinds of finding": self.finding_kinds(),
            "kinds of reading": self.reading_kinds(),
        }

    def stages(self) -> int:
        """New ones stand behind the stage that they follow in the fixtures, wherever the shop has that."""
        departments, known = self._pks("Department"), self.stage_pks()
        every = fixture_rows("stages", "Stage")
        rows = [row for row in every if (*row["department"], row["code"]) not in known]
        warned = [(_key([*row["department"], row["code"]]), row.get("cautions", [])) for row in rows]
        plain = [{name: row[name] for name in row if name != "cautions"} for row in rows]
        made = self._create("Stage", [named(row, department=departments) for row in plain])
        stages, cautions = self.stage_pks(), self._pks("Caution")
        through = self._model("Stage").cautions.through
        through.objects.bulk_create(
            through(stage_id=stages[stage], caution_id=cautions[caution[0]])
            for stage, cautioned in warned
            for caution in cautioned
        )
        self._put_in_place({row["department"][0] for row in rows}, every, set(known))
        return made

    def _put_in_place(self, homes: Iterable[str], every: list[Fields], known: set[Any]) -> None:
        model = self._model("Stage")
        in_fixtures = {name: [row["code"] for row in rows] for name, rows in _by_department(every)}
        for home in homes:
            rows = list(model.objects.filter(department__code=home).order_by("position", "pk"))
            new = [row for row in rows if (home, row.code) not in known]
            order = [row for row in rows if (home, row.code) in known]
            for row in sorted(new, key=lambda stage: in_fixtures[home].index(stage.code)):
                before = in_fixtures[home][: in_fixtures[home].index(row.code)]
                places = [at for at, other in enumerate(order) if other.code in before]
                order.insert(max(places, default=-1) + 1, row)
            order.sort(key=lambda stage: ENDS.get(stage.kind, 1))
            for place, stage in enumerate(order):
                stage.position = place
            model.objects.bulk_update(order, ["position"])

    def operations(self) -> int:
        departments, rests = self._pks("Department"), self._pks("Rest")
        every = fixture_rows("operations", "Operation")
        rows = self._missing("Operation", every)
        relations = ("stages", "cautions")
        plain = [{name: row[name] for name in row if name not in relations} for row in rows]
        made = self._create("Operation", [named(row, department=departments, rest=rests) for row in plain])
        known = self._pks("Operation")
        self._relate("stages", "stage_id", rows, known, self.stage_pks())
        self._relate("cautions", "caution_id", rows, known, self._pks("Caution"))
        self._fill_states(every)
        return made

    def _fill_states(self, rows: list[Fields]) -> None:
        """Work that a shop has from an earlier catalogue, which did not know the state of a piano yet."""
        states = {row["code"]: row["state"] for row in rows}
        model = self._model("Operation")
        without = list(model.objects.filter(state={}, code__in=states))
        for operation in without:
            operation.state = states[operation.code]
        model.objects.bulk_update(without, ["state"])

    def _relate(
        self,
        relation: str,
        column: str,
        rows: list[Fields],
        operations: Mapping[Any, int],
        others: Mapping[Any, int],
    ) -> None:
        through = getattr(self._model("Operation"), relation).through
        through.objects.bulk_create(
            through(**{"operation_id": operations[row["code"]], column: others[_key(other)]})
            for row in rows
            for other in row.get(relation, ())
        )

    def routes(self) -> int:
        """Steps come only with their route, so that one which the shop took off a route stays off."""
        rows = self._missing("Route", fixture_rows("routes", "Route"))
        made = self._create("Route", rows)
        self.steps_of({row["code"] for row in rows})
        return made

    def steps_of(self, codes: set[str]) -> None:
        steps = [row for row in fixture_rows("routes", "RouteStep") if row["route"][0] in codes]
        routes, operations = self._pks("Route"), self._pks("Operation")
        self._create("RouteStep", [named(row, route=routes, operation=operations) for row in steps])

    def finding_kinds(self) -> int:
        """Remedies come only with their kind of finding, so that one which the shop took away stays away."""
        rows = self._missing("FindingKind", fixture_rows("conditions", "FindingKind"))
        groups = self._pks("ComponentGroup")
        plain = [{name: row[name] for name in row if name != "forbids"} for row in rows]
        made = self._create("FindingKind", [named(row, group=groups) for row in plain])
        new = {row["code"] for row in rows}
        self.forbid(rows)
        self.remedies([row for row in fixture_rows("conditions", "Remedy") if row["finding_kind"][0] in new])
        return made

    def forbid(self, rows: list[Fields]) -> None:
        kinds, operations = self._pks("FindingKind"), self._pks("Operation")
        through = self._model("FindingKind").forbids.through
        through.objects.bulk_create(
            through(findingkind_id=kinds[row["code"]], operation_id=operations[other[0]])
            for row in rows
            for other in row.get("forbids", ())
        )

    def remedies(self, remedies: list[Fields]) -> None:
        kinds, operations = self._pks("FindingKind"), self._pks("Operation")
        relations = ("operations", "besides_grand", "besides_upright")
        plain = [{name: row[name] for name in row if name not in relations} for row in remedies]
        self._create("Remedy", [named(row, finding_kind=kinds) for row in plain])
        remedy_pks = self._pks("Remedy")
        for relation in relations:
            through = getattr(self._model("Remedy"), relation).through
            through.objects.bulk_create(
                through(remedy_id=remedy_pks[row["code"]], operation_id=operations[other[0]])
                for row in remedies
                for other in row.get(relation, ())
            )

    def reading_kinds(self) -> int:
        groups = self._pks("ComponentGroup")
        every = [*fixture_rows("conditions", "ReadingKind"), *fixture_rows("bench-readings", "ReadingKind")]
        return self._create(
            "ReadingKind", [named(row, group=groups) for row in self._missing("ReadingKind", every)]
        )

    def stage_pks(self) -> dict[Any, int]:
        found = self._model("Stage").objects.values_list("department__code", "code", "pk")
        return {(department, code): pk for department, code, pk in found}

    def _coded(self, name: str, file: str) -> int:
        return self._create(name, self._missing(name, fixture_rows(file, name)))

    def _missing(self, name: str, rows: list[Fields]) -> list[Fields]:
        known = self._pks(name)
        return [row for row in rows if row["code"] not in known]

    def _pks(self, name: str) -> dict[str, int]:
        return dict(self._model(name)._default_manager.values_list("code", "pk"))

    def _create(self, name: str, rows: list[Fields]) -> int:
        """Fields that the model does not have (yet, or any more) are passed over."""
        model: Model = self._model(name)
        has = {field.attname for field in model._meta.concrete_fields}
        fit = [{field: given for field, given in row.items() if field in has} for row in rows]
        return len(model._default_manager.bulk_create(model(**row) for row in fit))


def fixture_rows(file: str, model: str) -> list[Fields]:
    path = settings.BASE_DIR / "fixtures" / f"{file}.json"
    rows = json.loads(path.read_text(encoding="utf-8"))
    return [row["fields"] for row in rows if row["model"] == f"catalogue.{model.lower()}"]


def named(row: Fields, **pks: Mapping[Any, int]) -> Fields:
    """The row with the natural keys of these foreign keys turned into ids."""
    ids = {f"{name}_id": known[_key(row[name])] if row[name] else None for name, known in pks.items()}
    return {name: given for name, given in row.items() if name not in pks} | ids


def _by_department(rows: list[Fields]) -> Iterable[tuple[str, list[Fields]]]:
    for department, group in groupby(rows, key=lambda row: row["department"][0]):
        yield department, list(group)


def _key(natural: list[str]) -> Any:
    return natural[0] if len(natural) == 1 else tuple(natural)
