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
    lines = [AirLine(row, units) for row in latest_air()]
    return {"lines": lines, "said": "; ".join(f"{line.row.room} {line.humidity}" for line in lines)}


def _bearing(task: Task, viewer: Person) -> dict[str, Any]:
    belly = belly_of(task.instrument, the_shop().units)
    read = sum(1 for section in belly.sections if section.before or section.after)
    return {"belly": belly, "said": f"{read} of {len(belly.sections)} sections read" if read else ""}


def _marks(task: Task, viewer: Person) -> dict[str, Any]:
    photos = marked_photos(task.instrument)
    count = sum(len(each.marks) for each in photos)
    return {"photos": photos, "said": f"{count} numbered" if count else ""}


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
