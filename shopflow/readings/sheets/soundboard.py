"""The soundboard sheet."""

from __future__ import annotations

from typing import Any

from shopflow.catalogue.models import SheetKind
from shopflow.catalogue.selectors import the_shop
from shopflow.people.models import Person
from shopflow.readings.parts import Part, Sheet
from shopflow.readings.selectors.air import AirLine, latest_air
from shopflow.readings.selectors.bearing import belly_of
from shopflow.readings.selectors.marked import marked_photos
from shopflow.readings.sums import crown, panel, shim
from shopflow.workshop.models import Task


def _rooms(task: Task, viewer: Person) -> dict[str, Any]:
    units = the_shop().units
    return {"lines": [AirLine(row, units) for row in latest_air()]}


def _bearing(task: Task, viewer: Person) -> dict[str, Any]:
    return {"belly": belly_of(task.instrument, the_shop().units)}


def _marks(task: Task, viewer: Person) -> dict[str, Any]:
    return {"photos": marked_photos(task.instrument)}


SHEET = Sheet(
    kind=SheetKind.SOUNDBOARD,
    parts=(
        Part("rooms", "The air of the rooms", "readings/_part_rooms.html", _rooms),
        shim.SUM,
        panel.SUM,
        crown.SUM,
        Part("bearing", "Bearing, section by section", "readings/_part_bearing.html", _bearing),
        Part("marks", "Cracks and ribs on a photo", "readings/_part_marks.html", _marks),
    ),
    read_groups=("board", "ribs", "bridges"),
    cautions=("wood-dust", "plate"),
    lede="What the air makes of the wood, how the board stands, how the strings press on it.",
)
