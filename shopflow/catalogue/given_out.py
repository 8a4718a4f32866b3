"""The catalogue as it is given out, to stand in where a shop's own contradicts itself."""

from __future__ import annotations

from typing import Any

from .services.adding import fixture_rows

Facts = dict[str, Any]
HOURS = ("low", "likely", "high")
# Work that says nothing of itself yet: it holds the whole piano and comes before the final check.
SAFE_STATE: Facts = {"at": ["body", "loose"], "work": "repair"}
NOT_SAID = (
    "This is the shop’s own work, and nobody has said yet what it needs, opens and leaves. Until then it "
    "holds the whole piano, comes after the survey and before the final check."
)


def all_in_use(facts: Facts) -> Facts:
    """With work that the shop retired although other work cannot be closed without it."""
    operations = facts["operations"].items()
    in_use = {code: {name: row[name] for name in row if name != "retired"} for code, row in operations}
    return facts | {"operations": in_use}


def as_given_out(facts: Facts) -> Facts:
    """The trade's states and lines in place of the shop's; its own work does no harm to anything."""
    given = {row["code"]: row for row in fixture_rows("operations", "Operation")}
    lines = {row["code"]: row for row in fixture_rows("state", "StateLine")}
    steps = {row["code"]: row["steps"] for row in fixture_rows("state", "StepLine")}
    sorts = {row["code"]: row for row in fixture_rows("state", "WorkSort")}
    operations = {code: _plain(row, given.get(code)) for code, row in facts["operations"].items()}
    missing = {code: _from_fixture(row) for code, row in given.items() if code not in operations}
    together = {"lines": lines, "steps": steps, "common": sorts, "operations": operations | missing}
    return facts | together


def _plain(row: Facts, given: Facts | None) -> Facts:
    kept = {name: row[name] for name in ("name", "department", "materials", "rest", "outside_cost")}
    hours = {side: row[side] or (given and _three(given, side)) for side in ("upright", "grand")}
    return kept | hours | (given["state"] if given else SAFE_STATE)


def _from_fixture(row: Facts) -> Facts:
    rest = row["rest"][0] if row["rest"] else None
    facts = {
        "name": row["name"],
        "department": row["department"][0],
        "materials": row["materials"],
        "rest": rest,
    }
    return facts | {side: _three(row, side) for side in ("upright", "grand")} | row["state"]


def _three(row: Facts, side: str) -> list[float] | None:
    figures = [row[f"{side}_{step}"] for step in HOURS]
    return None if None in figures else [float(figure) for figure in figures]
