"""Upright bars: counts by week or month, hours by department on top of one another."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from shopflow.common.charts.chart import Chart, Drawing, Number, Series, Target, checked, same_length
from shopflow.common.charts.draw import INK, n, path, text, width_of
from shopflow.common.charts.frame import LEFT, Frame
from shopflow.common.materials import patch


def bars(
    *,
    title: str,
    description: str,
    labels: Sequence[str],
    values: Sequence[Number | None],
    heads: tuple[str, str] = ("", "figure"),
    target: Target | None = None,
    material: str = "neutral",
) -> Chart:
    """Upright bars with their figures on top, and a target line if there is one."""
    one = Series(heads[1], values, material)
    return stacked_bars(
        title=title, description=description, labels=labels, series=[one], head=heads[0], target=target
    )


def stacked_bars(
    *,
    title: str,
    description: str,
    labels: Sequence[str],
    series: Sequence[Series],
    head: str = "",
    target: Target | None = None,
) -> Chart:
    """Bars on top of one another, their names beside the last of them."""
    aims = target.along(len(labels)) if target else []
    columns = [(one.name, one.values) for one in series] + ([(target.name, aims)] if target else [])
    for name, run in columns:
        same_length(labels, name, run)
    rows = tuple((label, *(run[i] for _, run in columns)) for i, label in enumerate(labels))
    runs = [[max(0.0, v or 0.0) for v in checked(one.name, one.values)] for one in series]
    drawn = _Bars(labels, series, runs, target.name if target else "", aims)
    return Chart(title, description, (head, *(name for name, _ in columns)), rows, drawn.on)


@dataclass(frozen=True, slots=True)
class _Bars:
    labels: Sequence[str]
    series: Sequence[Series]
    runs: list[list[float]]
    target_name: str
    aims: list[float]

    @property
    def totals(self) -> list[float]:
        return [sum(column) for column in zip(*self.runs, strict=True)]

    def on(self, width: float) -> Drawing:
        names = [f"{one.name}MMM" for one in self.series] if len(self.series) > 1 else []
        names += [self.target_name] if self.aims else []
        frame = Frame.around(
            [*self.totals, *self.aims], names, width=width, count=len(self.labels), top=26, height=290
        )
        places = [frame.column(i) for i in range(len(self.labels))]
        parts = [frame.rules(), self._columns(frame), self._totals(frame), frame.labels(self.labels, places)]
        parts += [self._names(frame) if len(self.series) > 1 else "", self._aim(frame)]
        return Drawing("".join(parts), frame.width, frame.height)

    def _columns(self, frame: Frame) -> str:
        wide = min(46.0, frame.pitch * 0.68)
        floor = [0.0] * len(self.labels)
        out = []
        for one, run in zip(self.series, self.runs, strict=True):
            for i, value in enumerate(run):
                top, foot = frame.y(floor[i] + value), frame.y(floor[i])
                out.append(patch(one.material, frame.column(i) - wide / 2, top, wide, foot - top))
                floor[i] += value
        return "".join(out)

    def _totals(self, frame: Frame) -> str:
        """The sum on top of each bar, where there is room to read it."""
        said = [(i, total, f"{total:g}") for i, total in enumerate(self.totals) if total]
        if any(width_of(words) > frame.pitch for _, _, words in said):
            return ""
        return "".join(
            text(frame.column(i), frame.y(total) - 6, words, anchor="middle", colour=INK, bold=True)
            for i, total, words in said
        )

    def _names(self, frame: Frame) -> str:
        """Each layer's name beside the last bar, with a small patch, kept from overlapping."""
        out, foot, taken = [], 0.0, frame.height
        for one, run in zip(self.series, self.runs, strict=True):
            last = run[-1] if run else 0.0
            taken = min(frame.y(foot + last / 2) + 5, taken - 19)
            out.append(patch(one.material, frame.right + 8, taken - 12, 20, 14))
            out.append(text(frame.right + 34, taken, one.name, colour=INK))
            foot += last
        return "".join(out)

    def _aim(self, frame: Frame) -> str:
        if not self.aims:
            return ""
        level = len(set(self.aims)) == 1
        pieces = [f"M{n(LEFT)} {n(frame.y(self.aims[0]))}H{n(frame.right)}"]
        if not level:
            half = frame.pitch / 2 - 2
            pieces = [
                f"M{n(frame.column(i) - half)} {n(frame.y(aim))}h{n(2 * half)}"
                for i, aim in enumerate(self.aims)
            ]
        name = text(frame.right + 8, frame.y(self.aims[-1]) + 5, self.target_name, colour=INK)
        return path("".join(pieces), colour=INK, width=2, dash="7 4") + name
