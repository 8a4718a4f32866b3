"""The paper of an upright chart: its scales, level rules, labels below and names at the right."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

from shopflow.common.charts.draw import (
    INK,
    LINE,
    RULE,
    SOFT,
    decades,
    labels_below,
    n,
    path,
    scale,
    text,
    ticks,
    width_of,
)

LEFT = 42.0
FOOT = 34.0


@dataclass(frozen=True, slots=True)
class Frame:
    """Where things go on one chart."""

    width: float
    height: float
    top: float
    right: float
    levels: tuple[float, ...]
    count: int
    inset: float = 0.0
    is_log: bool = False

    @classmethod
    def around(
        cls, values: Sequence[float], names: Sequence[str], *, width: float, count: int, top: float = 18.0,
        height: float = 300.0, inset: float = 0.0, from_zero: bool = True, is_log: bool = False,
    ) -> Frame:  # fmt: skip
        """Room for these figures and, at the right, for these names."""
        right = width - max([14.0, *(width_of(name) + 14 for name in names)])
        if is_log:
            levels = tuple(decades(min(values, default=1.0), max(values, default=10.0)))
        elif from_zero:
            levels = tuple(ticks(min([0.0, *values]), max([1.0, *values])))
        else:
            levels = tuple(ticks(min(values, default=0.0), max(values, default=1.0)))
        return cls(width, height, top, right, levels, count, inset, is_log)

    def y(self, value: float) -> float:
        low, high = self.levels[0], self.levels[-1]
        if self.is_log:
            low, high, value = math.log10(low), math.log10(high), math.log10(value)
        return scale(low, high, self.height - FOOT, self.top)(value)

    def x(self, place: int) -> float:
        """The middle of a place, for lines: the first at the left edge, the last at the right."""
        return scale(0, max(1, self.count - 1), LEFT + self.inset, self.right - self.inset)(place)

    @property
    def pitch(self) -> float:
        return (self.right - LEFT) / max(1, self.count)

    def column(self, place: int) -> float:
        """The middle of a place, for bars."""
        return LEFT + self.pitch * (place + 0.5)

    def rules(self) -> str:
        """Faint level lines with their figures at the left."""
        out = []
        for level in self.levels:
            y = self.y(level)
            colour = LINE if level == self.levels[0] else RULE
            out.append(path(f"M{n(LEFT)} {n(y)}H{n(self.right)}", colour=colour))
            out.append(text(LEFT - 8, y + 5, f"{level:g}", anchor="end"))
        return "".join(out)

    def labels(self, labels: Sequence[str], places: Sequence[float]) -> str:
        room = places[1] - places[0] if len(places) > 1 else self.right - LEFT
        return labels_below(labels, places, self.height - 12, room)

    def names(self, ends: Sequence[tuple[str, float, bool]]) -> str:
        """Names (with their height and weight) at the right, pushed apart so that none covers another."""
        wanted = sorted((self.y(value), name, bold) for name, value, bold in ends)
        heights: list[float] = []
        for y, _, _ in wanted:
            heights.append(max(y, heights[-1] + 17) if heights else y)
        low = self.height - FOOT
        for i in reversed(range(len(heights))):
            heights[i] = min(heights[i], low)
            low = heights[i] - 17
        return "".join(
            text(self.right + 8, y + 5, name, colour=INK if bold else SOFT, bold=bold)
            for y, (_, name, bold) in zip(heights, wanted, strict=True)
        )
