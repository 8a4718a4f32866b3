"""The trade's catalogue as `compute/worknet` reads it, straight from the fixtures: no database needed."""

from __future__ import annotations

import json
from pathlib import Path
from typing import Any

FIXTURES = Path(__file__).resolve().parents[1] / "fixtures"
FLAGS = ("place", "clears_itself", "stays_at_top", "by_part")
ASPECTS = ("safety", "playing", "tone", "looks", "durability")
KINDS = ("upright", "grand")


def data_from_fixtures() -> dict[str, Any]:
    library = sorted(map(_remedy, _rows("conditions", "remedy")), key=lambda row: row["code"])
    kinds = _rows("conditions", "findingkind")
    steps, parts = _rows("state", "stepline"), _rows("state", "keptpart")
    return {
        "lines": {row["code"]: _line(row) for row in _rows("state", "stateline")},
        "steps": {row["code"]: row["steps"] for row in steps},
        "steps_by_part": sorted(row["code"] for row in steps if row["by_part"]),
        "parts": {row["code"]: row["goes_with"] for row in parts if row["goes_with"]},
        "words": {row["code"]: row["words"] for row in parts if row["words"]},
        "common": {row["code"]: _sort(row) for row in _rows("state", "worksort")},
        "rates": {row["code"]: float(row["rate"]) for row in _rows("departments", "department")},
        "materials": {row["code"]: float(row["likely"]) for row in _rows("materials", "materialband")},
        "rests": {row["code"]: _three(row, "hours") for row in _rows("rests", "rest")},
        "operations": {
            row["code"]: _operation(row)
            for row in sorted(_rows("operations", "operation"), key=lambda row: row["code"])
        },
        "stops": {row["code"]: row["stops"] for row in kinds if row["stops"]},
        "forbids": {row["code"]: _codes(row["forbids"]) for row in kinds if row["forbids"]},
        "findings": {row["code"]: _finding(row) for row in kinds},
        "library": library,
        "remedies": {row["code"]: row["operations"] for row in library},
        "routes": _routes(),
    }


def _rows(file: str, model: str) -> list[dict[str, Any]]:
    rows = json.loads((FIXTURES / f"{file}.json").read_text(encoding="utf-8"))
    return [row["fields"] for row in rows if row["model"] == f"catalogue.{model}"]


def _line(row: dict[str, Any]) -> dict[str, Any]:
    facts = {name: row[name] for name in ("name", "levels", "found", "goal", "say")}
    return facts | {flag: True for flag in FLAGS if row[flag]}


def _sort(row: dict[str, Any]) -> dict[str, Any]:
    return {name: row[name] for name in ("needs", "spoils") if row[name]}


def _operation(row: dict[str, Any]) -> dict[str, Any]:
    facts = {
        "name": row["name"],
        "department": row["department"][0],
        "materials": row["materials"],
        "rest": row["rest"][0] if row["rest"] else None,
        "outside_cost": float(row.get("outside_cost") or 0),
        "in_every_job": row.get("in_every_job", False),
        "at_the_owners": row["at_the_owners"],
    }
    return facts | {kind: _three(row, kind) for kind in KINDS} | row["state"]


def _finding(row: dict[str, Any]) -> dict[str, Any]:
    weights = {aspect: row[aspect] for aspect in ASPECTS}
    return {"name": row["name"], "stops": row["stops"], "group": row["group"][0], **weights}


def _remedy(row: dict[str, Any]) -> dict[str, Any]:
    by_kind = {kind: _codes([*row["operations"], *row.get(f"besides_{kind}", [])]) for kind in KINDS}
    facts = {name: row[name] for name in ("code", "name", "kind", "cures", "only_for", "position")}
    same = by_kind["upright"] == by_kind["grand"]
    return facts | {"finding": row["finding_kind"][0], "operations": by_kind["grand"] if same else by_kind}


def _routes() -> dict[str, Any]:
    steps = sorted(_rows("routes", "routestep"), key=lambda row: row["position"])
    return {
        route["code"]: {
            "kind": route["kind"],
            "operations": [row["operation"][0] for row in steps if row["route"] == [route["code"]]],
        }
        for route in _rows("routes", "route")
    }


def _codes(natural: list[list[str]]) -> list[str]:
    return sorted(key[0] for key in natural)


def _three(row: dict[str, Any], side: str) -> list[float] | None:
    figures = [row[f"{side}_{step}"] for step in ("low", "likely", "high")]
    return None if None in figures else [float(figure) for figure in figures]
