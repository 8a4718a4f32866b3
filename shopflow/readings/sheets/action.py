"""The action sheet."""

from __future__ import annotations

from typing import Any

from shopflow.catalogue.models import SheetKind
from shopflow.catalogue.selectors import the_shop
from shopflow.people.models import Person
from shopflow.readings.benches import may_write
from shopflow.readings.keyboard_picture import keyboards
from shopflow.readings.models import Phase, RegulatingValue
from shopflow.readings.parts import Part, Sheet
from shopflow.readings.selectors.touch import regulated, weighed
from shopflow.readings.sums import lead
from shopflow.readings.touch_words import odd_in_words
from shopflow.readings.wires import FINE
from shopflow.workshop.models import Task


def _touch(task: Task, viewer: Person) -> dict[str, Any]:
    found = weighed(task.instrument)
    before, after = found[Phase.BEFORE], found[Phase.AFTER]
    latest = before if after.is_empty else after
    odd = odd_in_words(latest.odd)
    return {
        "means": (before, after),
        "latest": latest,
        "pictures": keyboards(before, after),
        "odd": odd[:6],
        "more": max(0, len(odd) - 6),
        "may_write": may_write(viewer, SheetKind.ACTION),
    }


def _aim(value: RegulatingValue, units: str) -> str:
    unit = FINE.unit(units)
    bass, treble, off = (
        f"{unit.shown(mm):.{FINE.places(units)}f}"
        for mm in (value.bass_mm, value.treble_mm, value.tolerance_mm)
    )
    return f"{bass if bass == treble else f'{bass} to {treble}'} {unit.name} ± {off}"


def _regulating(task: Task, viewer: Person) -> dict[str, Any]:
    values = regulated(task.instrument)
    off, read = sum(each.off_count for each in values), sum(len(each.samples) for each in values)
    said = f"{off} of {read} sample notes out of tolerance" if off else ""
    units = the_shop().units
    lines = [(each, _aim(each.value, units)) for each in values]
    return {"lines": lines, "said": said or (f"{read} sample notes within" if read else "")}


SHEET = Sheet(
    kind=SheetKind.ACTION,
    parts=(
        Part("touch", "How the keys play", "readings/_part_touch.html", _touch, leads=True),
        lead.SUM,
        Part("regulating", "Regulating", "readings/_part_regulating.html", _regulating),
    ),
    read_groups=("action", "keys", "dampers"),
    cautions=("lead",),
    lede="How heavy the keys are, how much of it is friction, and what the action is regulated to.",
)
