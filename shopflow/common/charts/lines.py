"""Lines over time: what was finished against what was needed, and a forecast's fan."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from shopflow.common.charts.chart import (
    Band,
    Chart,
    Drawing,
    Mark,
    Number,
    Series,
    Target,
    checked,
    same_length,
)
from shopflow.common.charts.draw import INK, LINE, SOFT, disc, n, path, text
from shopflow.common.charts.frame import Frame
from shopflow.common.materials import material

DASHES = ("", "9 4", "3 3", "12 3 3 3", "1 4")
FANS = ("#e6cf9c", "#d5b06d", "#b98d44")
Run = list[float | None]


def lines(
    *,
    title: str,
    description: str,
    labels: Sequence[str],
    series: Sequence[Series],
    head: str = "week",
    target: Target | None = None,
    bands: Sequence[Band] = (),
    step: bool = False,
    marks: Sequence[Mark] = (),
    from_zero: bool = True,
    is_log: bool = False,
) -> Chart:
    """Lines named at their right end; bands lie beneath them, the target is a broken line.

    `marks` stand upright between places; with `is_log` each level of the axis is a multiple of the one below.
    """
    columns = _columns(series, bands, target, len(labels))
    for name, run in columns:
        same_length(labels, name, run)
    rows = tuple((label, *(run[i] for _, run in columns)) for i, label in enumerate(labels))
    runs = {name: checked(name, run) for name, run in columns}
    drawn = _Lines(labels, series, bands, target, runs, step, marks, from_zero, is_log)
    return Chart(title, description, (head, *(name for name, _ in columns)), rows, drawn.on)


def _columns(
    series: Sequence[Series], bands: Sequence[Band], target: Target | None, count: int
) -> list[tuple[str, Sequence[Number | None]]]:
    columns: list[tuple[str, Sequence[Number | None]]] = [(one.name, one.values) for one in series]
    for band in bands:
        columns += [(_low(band), band.low), (_high(band), band.high)]
    if target:
        columns.append((target.name, target.along(count)))
    return columns


def _low(band: Band) -> str:
    return f"{band.name}, low"


def _high(band: Band) -> str:
    return f"{band.name}, high"


@dataclass(frozen=True, slots=True)
class _Lines:
    labels: Sequence[str]
    series: Sequence[Series]
    bands: Sequence[Band]
    target: Target | None
    runs: dict[str, Run]
    step: bool
    marks: Sequence[Mark]
    from_zero: bool
    is_log: bool

    def on(self, width: float) -> Drawing:
        known = [v for run in self.runs.values() for v in run if v is not None]
        ends = self._ends()
        frame = Frame.around(
            known, [name for name, _, _ in ends], width=width, count=len(self.labels), inset=5,
            top=34 if self.marks else 18, from_zero=self.from_zero, is_log=self.is_log,
        )  # fmt: skip
        parts = [
            frame.rules(),
            *(self._mark(frame, mark) for mark in self.marks),
            *(self._fan(frame, k) for k in range(len(self.bands))),
        ]
        if self.target:
            aim = outline(self.runs[self.target.name], frame)
            parts.append(path(aim, colour=SOFT, width=2, dash="7 5"))
        parts += [self._line(frame, k) for k in range(len(self.series))]
        parts.append(frame.labels(self.labels, [frame.x(i) for i in range(len(self.labels))]))
        parts.append(frame.names(ends))
        return Drawing("".join(parts), frame.width, frame.height)

    def _ends(self) -> list[tuple[str, float, bool]]:
        """What stands at the right edge; a line that ends earlier carries its name at its own end."""
        named = [(one.name, one.name, True) for one in self.series]
        named += [(band.name, _high(band), False) for band in self.bands]
        named += [(self.target.name, self.target.name, False)] if self.target else []
        known = [(name, last_known(self.runs[key]), bold) for name, key, bold in named]
        edge = len(self.labels) - 1
        return [(name, last[1], bold) for name, last, bold in known if last and last[0] == edge]

    def _mark(self, frame: Frame, mark: Mark) -> str:
        x = frame.x(0) + mark.at * (frame.x(1) - frame.x(0))
        line = path(f"M{n(x)} {n(frame.top - 12)}V{n(frame.y(frame.levels[0]))}", colour=LINE, dash="2 4")
        return line + text(x, frame.top - 17, mark.name, anchor="middle", colour=SOFT, size=12)

    def _line(self, frame: Frame, place: int) -> str:
        one = self.series[place]
        run = self.runs[one.name]
        last = last_known(run)
        if not last:
            return ""
        colour = material(one.material).colour if one.material else INK
        drawn = outline(run, frame, step=self.step)
        x, y = frame.x(last[0]), frame.y(last[1])
        dot = disc(x, y, 4, colour)
        if last[0] < len(self.labels) - 1:
            dot += text(x + 4, y + 20, one.name, colour=INK, bold=True)
        return path(drawn, colour=colour, width=2.6, dash=DASHES[place % len(DASHES)]) + dot

    def _fan(self, frame: Frame, place: int) -> str:
        band = self.bands[place]
        both = enumerate(zip(self.runs[_low(band)], self.runs[_high(band)], strict=True))
        known = [(i, a, b) for i, (a, b) in both if a is not None and b is not None]
        if not known:
            return ""
        there = "L".join(f"{n(frame.x(i))} {n(frame.y(b))}" for i, _, b in known)
        back = "".join(f"L{n(frame.x(i))} {n(frame.y(a))}" for i, a, _ in reversed(known))
        return path(
            f"M{there}{back}Z", colour="#8a6410", width=0.8, fill=FANS[place % len(FANS)], opacity=0.75
        )


def last_known(run: Run) -> tuple[int, float] | None:
    """The last figure of a run and its place."""
    return next(((i, v) for i, v in reversed(list(enumerate(run))) if v is not None), None)


def outline(run: Run, frame: Frame, *, step: bool = False) -> str:
    """A run as a line; a gap lifts the pen."""
    out, pen_down = ["M0 0"], False
    for i, value in enumerate(run):
        if value is None:
            pen_down = False
            continue
        x, y = n(frame.x(i)), n(frame.y(value))
        down = f"H{x}V{y}" if step else f"L{x} {y}"
        out.append(down if pen_down else f"M{x} {y}")
        pen_down = True
    return "".join(out)
