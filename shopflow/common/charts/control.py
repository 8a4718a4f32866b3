"""The control chart: weeks between natural limits, and those that fall outside them."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from shopflow.common.charts.chart import Chart, Drawing, Number, checked, same_length
from shopflow.common.charts.draw import INK, SHEET, SOFT, disc, n, path, text
from shopflow.common.charts.frame import LEFT, Frame
from shopflow.common.charts.lines import Run, outline


def control_chart(
    *,
    title: str,
    description: str,
    labels: Sequence[str],
    values: Sequence[Number | None],
    centre: Number,
    lower: Number,
    upper: Number,
    heads: tuple[str, str] = ("week", "figure"),
) -> Chart:
    """Points between natural limits; a point outside them is drawn large and hollow, with its figure."""
    same_length(labels, heads[1], values)
    drawn = _Control(labels, checked(heads[1], values), float(centre), float(lower), float(upper))
    return Chart(title, description, heads, tuple(zip(labels, values, strict=True)), drawn.on)


@dataclass(frozen=True, slots=True)
class _Control:
    labels: Sequence[str]
    run: Run
    centre: float
    lower: float
    upper: float

    def on(self, width: float) -> Drawing:
        limits = [("upper", self.upper, "4 4"), ("average", self.centre, ""), ("lower", self.lower, "4 4")]
        known = [v for v in self.run if v is not None] + [v for _, v, _ in limits]
        names = [(f"{name} {value:g}", value, False) for name, value, _ in limits]
        frame = Frame.around(
            known, [name for name, _, _ in names], width=width, count=len(self.labels), top=32, inset=7
        )
        parts = [frame.rules()]
        parts += [_limit(frame, value, dash) for _, value, dash in limits]
        parts.append(path(outline(self.run, frame), colour=INK, width=1.6))
        parts += [self._point(frame, i, v) for i, v in enumerate(self.run) if v is not None]
        parts.append(frame.labels(self.labels, [frame.x(i) for i in range(len(self.labels))]))
        return Drawing("".join([*parts, frame.names(names)]), frame.width, frame.height)

    def _point(self, frame: Frame, place: int, value: float) -> str:
        x, y = frame.x(place), frame.y(value)
        if self.lower <= value <= self.upper:
            return disc(x, y, 3.5)
        diamond = path(f"M{n(x)} {n(y - 8)}l8 8l-8 8l-8 -8Z", width=2.4, fill=SHEET)
        return diamond + text(x, y - 13, f"{value:g}", anchor="middle", colour=INK, bold=True)


def _limit(frame: Frame, value: float, dash: str) -> str:
    return path(f"M{n(LEFT)} {n(frame.y(value))}H{n(frame.right)}", colour=SOFT, width=1.6, dash=dash)
