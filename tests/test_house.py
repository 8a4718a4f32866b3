"""The house stands on its own order: imports run one way, and the computations lean on nobody."""

from __future__ import annotations

import ast
from collections.abc import Iterator
from pathlib import Path

import pytest

import shopflow

HOUSE = Path(shopflow.__file__).parent
# From the roof to the ground: each may import those after it. A name in quotes ("catalogue.Stage") is free.
ORDER = [
    "demo",
    "reports",
    "planning",
    "offers",
    "readings",
    "workshop",
    "photos",
    "instruments",
    "customers",
    "catalogue",
    "people",
    "common",
]
BELOW = {part: {*ORDER[place + 1 :], "compute"} for place, part in enumerate(ORDER)} | {"compute": set()}


def imported(source: str, *, package: str) -> Iterator[str]:
    """The full name of every module that this source imports, wherever in the file it does so."""
    for node in ast.walk(ast.parse(source)):
        if isinstance(node, ast.Import):
            yield from (alias.name for alias in node.names)
        elif isinstance(node, ast.ImportFrom):
            base = package.split(".")[: len(package.split(".")) - node.level + 1] if node.level else []
            stem = ".".join([*base, *([node.module] if node.module else [])])
            yield from (f"{stem}.{alias.name}" for alias in node.names)


def parts_used(source: str, *, package: str) -> set[str]:
    """The parts of the house that this source imports from."""
    names = (name.split(".") for name in imported(source, package=package))
    return {name[1] for name in names if name[0] == "shopflow" and len(name) > 1 and name[1] in BELOW}


def wrong_arrows(part: str) -> list[str]:
    wrong = []
    for path in sorted((HOUSE / part).rglob("*.py")):
        package = ".".join(path.relative_to(HOUSE.parent).with_suffix("").parts[:-1])
        upward = parts_used(path.read_text(encoding="utf-8"), package=package) - BELOW[part] - {part}
        wrong += [f"{path.relative_to(HOUSE)} imports {other}" for other in sorted(upward)]
    return wrong


def test_every_folder_of_the_house_has_its_place_in_the_order():
    folders = {path.parent.name for path in HOUSE.glob("*/__init__.py")}
    assert folders == set(BELOW)


@pytest.mark.parametrize("part", sorted(BELOW))
def test_imports_run_one_way(part):
    assert wrong_arrows(part) == []


@pytest.mark.parametrize(
    ("source", "package", "used"),
    [
        ("from shopflow.workshop.models import Task", "shopflow.catalogue", {"workshop"}),
        ("import shopflow.reports", "shopflow.catalogue", {"reports"}),
        ("from shopflow import people", "shopflow.common", {"people"}),
        ("from ..people import access", "shopflow.catalogue", {"people"}),
        ("from ...people import access", "shopflow.catalogue.services", {"people"}),
        ("def late():\n    from shopflow.planning import models", "shopflow.people", {"planning"}),
        ("home = ForeignKey('catalogue.Department')", "shopflow.people", set()),
        ("from .models import Stage", "shopflow.catalogue", {"catalogue"}),
    ],
)
def test_the_check_sees_an_import_however_it_is_written(source, package, used):
    assert parts_used(source, package=package) == used
