"""The plating sheet: area, current and time; parts counted out and in."""

from __future__ import annotations

from typing import Any

from shopflow.catalogue.models import SheetKind
from shopflow.instruments.selectors.crates import missing_of
from shopflow.people.models import Person
from shopflow.readings.cure import PART as CURE
from shopflow.readings.parts import Part, Sheet
from shopflow.readings.sums import plating_area, plating_time
from shopflow.workshop.models import Task


def _count(task: Task, viewer: Person) -> dict[str, Any]:
    piano = task.instrument
    return {"instrument": piano, "missing": missing_of(piano), "has_crates": piano.crates.exists()}


COUNT = Part("count", "Counted out and in", "readings/_part_count.html", _count)

SHEET = Sheet(
    kind=SheetKind.PLATING,
    lede="Baths, fumes and waste are for licensed people; most shops send plating out. These are sums, not "
    "a method.",
    parts=(plating_area.SUM, plating_time.SUM, COUNT, CURE),
    reads=("bath-temperature", "bath-current", "deposit-film"),
    cautions=("plating-baths", "polishing"),
)
