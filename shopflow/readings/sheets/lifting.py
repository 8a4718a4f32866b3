"""The lifting sheet: how much may be lifted by hand, and what must not be."""

from __future__ import annotations

from typing import Any

from shopflow.catalogue.models import SheetKind
from shopflow.catalogue.selectors import the_shop
from shopflow.people.models import Person
from shopflow.readings.measures import WEIGHT
from shopflow.readings.parts import Part, Sheet
from shopflow.readings.sums import lift
from shopflow.workshop.models import Task

# What, from, to in kg, and where the figure comes from.
USUAL_WEIGHTS = (
    ("Upright, whole", 90, 360, "a mover’s page"),
    ("Grand, whole", 225, 590, "a mover’s page"),
    ("Iron plate of a grand", 100, 200, "from memory, not looked up"),
)


def _weights(task: Task, viewer: Person) -> dict[str, Any]:
    unit = WEIGHT.unit(the_shop().units)
    rows = [
        (name, f"{unit.shown(low):.0f} to {unit.shown(high):.0f} {unit.name}", basis)
        for name, low, high, basis in USUAL_WEIGHTS
    ]
    return {"rows": rows}


WEIGHTS = Part("weights", "Usual weights", "readings/_part_weights.html", _weights)

SHEET = Sheet(
    kind=SheetKind.LIFTING,
    lede="A guide and no permit: local codes rule. Whole instruments and plates are for hoist, board and "
    "movers.",
    parts=(lift.SUM, WEIGHTS),
    reads=("load-weight",),
    cautions=("lifting", "plate", "tipping"),
)
