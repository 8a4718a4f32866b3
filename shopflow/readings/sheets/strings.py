"""The strings sheet."""

from __future__ import annotations

from typing import Any

from shopflow.catalogue.models import SheetKind
from shopflow.catalogue.selectors import the_shop
from shopflow.people.models import Person
from shopflow.readings.benches import may_write
from shopflow.readings.parts import Part, Sheet
from shopflow.readings.scale_words import oddities_in_words
from shopflow.readings.selectors.scale import latest_scale, reckon, scales_of
from shopflow.readings.sums import pitch_raise
from shopflow.workshop.models import Task


def _scale(task: Task, viewer: Person) -> dict[str, Any]:
    """The scales of this instrument, and the sums of the one that tells most."""
    found = latest_scale(task.instrument)
    shown = reckon(found, the_shop().units) if found else None
    return {
        "scales": list(scales_of(task.instrument)),
        "shown": shown,
        "oddities": oddities_in_words(shown.figures, shown.units)[:4] if shown else [],
        "may_write": may_write(viewer, SheetKind.STRINGS),
        "said": f"{len(shown.lines)} of 88 notes, {shown.total.newtons:,.0f} N"
        if shown and shown.total
        else "",
    }


SHEET = Sheet(
    kind=SheetKind.STRINGS,
    parts=(
        Part("scale", "The scale, note by note", "readings/_part_scale.html", _scale, leads=True),
        pitch_raise.SUM,
    ),
    reads=("pitch-offset", "pin-torque", "coil-height", "wire-diameter", "rust-grade", "decay"),
    cautions=("string-tension",),
    lede="What the strings pull, what may go on instead, and what returns when the pitch is raised.",
)
