"""Level bars: the hours wanted of a department against the hours to be had."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass

from shopflow.common.charts.chart import Cell, Chart, Drawing, Load, checked, written
from shopflow.common.charts.draw import INK, SOFT, box, n, path, scale, text, width_of
from shopflow.common.materials import patch

PITCH, TOP = 40.0, 6.0


def load_bars(*, title: str, description: str, loads: Sequence[Load], unit: str = "h") -> Chart:
    """A bar for each department: hours wanted, with a stop mark where the hours to be had end."""
    return Chart(title, description, _heads(unit), _rows(loads), _Loads(loads, unit).on)


def load_bar(*, title: str, load: Load, unit: str = "h") -> Chart:
    """The small bar in a column head of the Floor: what is ready against what can be done."""
    rows = _rows([load])
    said = f"{written(load.wanted)} {unit} wanted, {written(load.to_be_had)} {unit} to be had"
    place = scale(0, max(1.0, float(load.wanted), float(load.to_be_had)), 1, 159)
    return Chart(title, said, _heads(unit), rows, lambda _: Drawing(_bar(load, 1, 10, 1, place), 160, 12))


def _heads(unit: str) -> tuple[str, ...]:
    return ("department", f"wanted, {unit}", f"to be had, {unit}")


def _rows(loads: Sequence[Load]) -> tuple[tuple[Cell, ...], ...]:
    for load in loads:
        checked(load.name, (load.wanted, load.to_be_had))
    return tuple((load.name, load.wanted, load.to_be_had) for load in loads)


@dataclass(frozen=True, slots=True)
class _Loads:
    loads: Sequence[Load]
    unit: str

    def words(self, load: Load) -> str:
        return f"{written(load.wanted)} of {written(load.to_be_had)} {self.unit}"

    def on(self, width: float) -> Drawing:
        left = max([40.0, *(width_of(load.name, 15) for load in self.loads)]) + 14
        right = width - max([20.0, *(width_of(self.words(load)) for load in self.loads)]) - 18
        most = max([1.0, *(float(max(load.wanted, load.to_be_had)) for load in self.loads)])
        place = scale(0, most, left, right)
        body = []
        for i, load in enumerate(self.loads):
            y = TOP + i * PITCH
            end = place(float(max(load.wanted, load.to_be_had)))
            body.append(text(left - 12, y + 20, load.name, anchor="end", colour=INK, size=15))
            body.append(_bar(load, y + 4, 22, left, place))
            body.append(
                text(end + 10, y + 20, self.words(load), colour=INK, bold=load.wanted > load.to_be_had)
            )
        return Drawing("".join(body), width, TOP * 2 + PITCH * len(self.loads))


def _bar(load: Load, y: float, high: float, left: float, place: Callable[[float], float]) -> str:
    """Trough, filling, end mark; what is too much stands beyond the mark and is drawn solid."""
    wanted, room = place(max(0.0, float(load.wanted))), place(max(0.0, float(load.to_be_had)))
    trough = box(left, y, max(0.0, room - left), high, fill="#fffdf6", line=SOFT)
    filling = patch(load.material, left, y, min(wanted, room) - left, high)
    too_much = box(room, y, wanted - room, high, fill=INK) if wanted > room else ""
    return trough + filling + too_much + path(f"M{n(room)} {n(y - 1)}v{n(high + 2)}", width=2.5)
