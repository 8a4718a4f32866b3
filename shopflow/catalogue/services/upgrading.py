"""From a catalogue that knew pairs of operations to one that knows the state of a piano."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Callable, Iterator
from typing import Any

from shopflow.catalogue.given_out import NOT_SAID, SAFE_STATE
from shopflow.catalogue.knowledge import SIDES, state_lines
from shopflow.compute.errors import ComputeError
from shopflow.compute.worknet import Knowledge

from .adding import Adding, Fields, fixture_rows

HOURS = [f"{side}_{step}" for side in SIDES for step in ("low", "likely", "high")]


class Upgrading:
    """`earlier` is the catalogue that was given out before: what still agrees with it was never touched."""

    def __init__(self, model_of: Callable[[str], Any], earlier: Fields) -> None:
        self._model, self._earlier = model_of, earlier
        self._adding = Adding(model_of)
        self._operations = model_of("Operation").objects
        self._given = {row["code"]: row for row in fixture_rows("operations", "Operation")}

    def everything(self) -> None:
        wishes = list(self._own_pairs())
        if self._operations.filter(code="receive").exists():
            known = set(self._operations.values_list("code", flat=True))
            had = set(self._model("FindingKind").objects.values_list("code", flat=True))
            self._adding.everything()
            self._correct_operations(known)
            self._correct_routes()
            self._correct_library(had)
        self._make_own_work_safe()
        self._keep_wishes(wishes)

    # --- what the shop never touched ---

    def _correct_operations(self, known: set[str]) -> None:
        rests = dict(self._model("Rest").objects.values_list("code", "pk"))
        stages = self._adding.stage_pks()
        cautions = dict(self._model("Caution").objects.values_list("code", "pk"))
        changed = known & set(self._earlier["operations"])
        rows = self._operations.filter(code__in=changed).select_related("rest", "department")
        for row in rows.prefetch_related("stages", "cautions"):
            was, now = self._earlier["operations"][row.code], self._given[row.code]
            if [_figure(getattr(row, name)) for name in HOURS] == was.get("hours"):
                for name in HOURS:
                    setattr(row, name, now[name])
            for name in ("name", "what"):
                if getattr(row, name) == was.get(name):
                    setattr(row, name, now[name])
            self._correct_path(row, was, now, rests, stages)
            if "cautions" in was:
                row.cautions.add(*(cautions[key[0]] for key in now["cautions"]))
            row.save()

    def _correct_path(self, row: Any, was: Fields, now: Fields, rests: Any, stages: Any) -> None:
        """Stages and rest go together: a rest without its stage, or the other way round, is no way."""
        path = [stage.code for stage in row.stages.all()]
        rest = row.rest.code if row.rest else None
        earlier_path = was.get("stages", [key[1] for key in now["stages"]])
        now_rest = now["rest"][0] if now["rest"] else None
        if sorted(path) == sorted(earlier_path) and rest == was.get("rest", now_rest):
            row.rest_id = rests[now_rest] if now_rest else None
            row.stages.set(stages[tuple(key)] for key in now["stages"])

    def _correct_routes(self) -> None:
        """A route whose steps are still those of the catalogue takes the catalogue's new ones."""
        steps = defaultdict(list)
        rows = self._model("RouteStep").objects.order_by("position")
        for code, operation in rows.values_list("route__code", "operation__code"):
            steps[code].append(operation)
        same = {code for code, was in self._earlier["routes"].items() if steps.get(code) == was}
        rows.filter(route__code__in=same).delete()
        self._adding.steps_of(same)

    def _correct_library(self, had: set[str]) -> None:
        kinds = {row["code"]: row for row in fixture_rows("conditions", "FindingKind") if row["code"] in had}
        for code, row in kinds.items():
            self._model("FindingKind").objects.filter(code=code).update(stops=row["stops"])
        self._adding.forbid(list(kinds.values()))
        remedies = {row["code"]: row for row in fixture_rows("conditions", "Remedy")}
        taken = set(self._model("Remedy").objects.values_list("code", flat=True))
        new = [remedies[code] for code in self._earlier["new_remedies"] if code not in taken]
        self._adding.remedies([row for row in new if row["finding_kind"][0] in had])
        for row in self._model("Remedy").objects.filter(code__in=self._earlier["remedies"]):
            codes = sorted(row.operations.values_list("code", flat=True))
            if codes == self._earlier["remedies"][row.code]:
                for relation in ("operations", "besides_grand", "besides_upright"):
                    names = [key[0] for key in remedies[row.code].get(relation, ())]
                    getattr(row, relation).set(self._operations.filter(code__in=names))

    # --- what is the shop's own ---

    def _own_pairs(self) -> Iterator[tuple[str, str, str]]:
        """Relation, operation and the other one, for each pair that the shop added itself."""
        for relation in ("must", "after", "brings"):
            said = self._earlier["pairs"][relation]
            through = getattr(self._model("Operation"), relation).through.objects
            pairs = through.values_list("from_operation__code", "to_operation__code")
            for code, other in sorted(pairs):
                if other not in said.get(code, ()):
                    yield relation, code, other

    def _make_own_work_safe(self) -> None:
        self._operations.filter(state={}).update(state=SAFE_STATE, state_to_look_at=True, state_note=NOT_SAID)

    def _keep_wishes(self, wishes: list[tuple[str, str, str]]) -> None:
        """As many as do not contradict the state; the others are written down for a person to look at."""
        rows = {row.code: row for row in self._operations.all()}
        for relation, code, other in wishes:
            before = rows[code].state
            rows[code].state = _with_wish(before, relation, other)
            if not self._agrees(rows, code, other):
                rows[code].state = before
                self._write_down(rows[code], relation, rows[other].name)
        for code in {code for _, code, _ in wishes}:
            rows[code].save()

    def _write_down(self, row: Any, relation: str, other: str) -> None:
        said = {"must": "always had", "after": "came after", "brings": "brought along"}[relation]
        words = (
            f"It {said} “{other}”, which contradicts what the catalogue now knows of the piano. Look at it."
        )
        row.state_note = f"{row.state_note}\n{words}".strip()
        row.state_to_look_at = True

    def _agrees(self, rows: dict[str, Any], code: str, other: str) -> bool:
        """Whether all can still be done, and the state does not put `code` before the other one."""
        lines = state_lines(self._model)
        if not lines["lines"]:
            return True
        operations = {
            code: {"name": row.name, **{side: _three(row, side) for side in SIDES}, **row.state}
            for code, row in rows.items()
        }
        rests = {row.code: _three(row, "hours") for row in self._model("Rest").objects.all()}
        for kind in SIDES:
            try:
                known = Knowledge.load({**lines, "rests": rests, "operations": operations}, kind)
            except ComputeError:
                return False
            both = {code, other} & known.codes
            if any(tie.before == code for tie in known.order(both)):
                return False
        return True


def _with_wish(state: Fields, relation: str, other: str) -> Fields:
    fields = {"must": ("also", "after"), "after": ("after",), "brings": ("also",)}[relation]
    return state | {field: sorted({*state.get(field, ()), other}) for field in fields}


def _figure(given: Any) -> str | None:
    return None if given is None else f"{given:.1f}"


def _three(row: Any, side: str) -> list[float] | None:
    figures = [getattr(row, f"{side}_{step}") for step in ("low", "likely", "high")]
    return None if None in figures else [float(figure) for figure in figures]
