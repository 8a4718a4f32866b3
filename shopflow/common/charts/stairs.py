"""Steps of money: what each sum buys, with the sum at hand marked; a step may lead somewhere."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass

from django.utils.html import escape

from shopflow.common.charts.chart import Chart, Drawing, Number, checked
from shopflow.common.charts.draw import INK, LINE, RULE, SOFT, disc, n, path, scale, text, ticks, width_of
from shopflow.common.charts.frame import Frame

Address = Callable[[Number], str]
FILL = "#d5b06d"


def stairs(
    *,
    title: str,
    description: str,
    steps: Sequence[tuple[Number, Number]],
    head: str = "money",
    of: str = "benefit",
    sign: str = "",
    marked: tuple[Number, str] | None = None,
    here: Number | None = None,
    address: Address | None = None,
) -> Chart:
    """A staircase by rising money; `marked` is a sum with its name, `here` the step that is taken now."""
    money = [float(one) for one, _ in steps]
    checked(head, [*money, *([marked[0]] if marked else [])])
    checked(of, [height for _, height in steps])
    if money != sorted(money):
        raise ValueError(f"{head}: the steps have to rise")
    rows = tuple((f"{sign}{one:,.0f}", round(float(height), 1)) for one, height in steps)
    drawn = _Stairs([(float(one), float(height)) for one, height in steps], sign, marked, here, address)
    return Chart(title, description, (head, of), rows, drawn.on)


@dataclass(frozen=True, slots=True)
class _Stairs:
    steps: list[tuple[float, float]]
    sign: str
    marked: tuple[Number, str] | None
    here: Number | None
    address: Address | None

    def on(self, width: float) -> Drawing:
        heights = [height for _, height in self.steps]
        frame = Frame.around([*heights, 100.0], [], width=width, count=2, height=280.0, top=26.0, inset=2)
        axis = ticks(0, self._end, about=6 if width > 500 else 4)
        across = scale(0, axis[-1], frame.x(0), frame.x(1))
        parts = [frame.rules(), self._line(frame, across), self._mark(frame, across)]
        parts += [self._money(frame, across, tick) for tick in axis]
        parts += (
            [self._link(frame, across, place) for place in range(len(self.steps))] if self.address else []
        )
        return Drawing("".join(parts), frame.width, frame.height)

    @property
    def _end(self) -> float:
        sums = [one for one, _ in self.steps] + ([float(self.marked[0])] if self.marked else [])
        return max(sums, default=1.0) * 1.02 or 1.0

    def _line(self, frame: Frame, across: Callable[[float], float]) -> str:
        if not self.steps:
            return ""
        start, low = self.steps[0]
        foot = frame.y(0)
        d = f"M{n(across(start))} {n(frame.y(low))}"
        d += "".join(f"H{n(across(money))}V{n(frame.y(height))}" for money, height in self.steps[1:])
        end = n(frame.x(1))
        area = path(f"{d}H{end}V{n(foot)}H{n(across(start))}Z", width=0, fill=FILL, opacity=0.35)
        riser = path(f"M{n(across(start))} {n(foot)}V{n(frame.y(low))}", colour=INK, width=2.4, dash="3 3")
        return area + riser + path(f"{d}H{end}", colour=INK, width=2.4)

    def _mark(self, frame: Frame, across: Callable[[float], float]) -> str:
        drawn = ""
        if self.marked:
            money, name = float(self.marked[0]), self.marked[1]
            x = across(money)
            drawn += path(f"M{n(x)} {n(frame.top - 6)}V{n(frame.y(0))}", colour=SOFT, width=2, dash="7 5")
            half = width_of(name) / 2
            middle = min(max(x, frame.x(0) + half), frame.right - half)
            drawn += text(middle, frame.top - 11, name, anchor="middle", colour=INK, bold=True)
        step = next((one for one in self.steps if self.here is not None and one[0] == float(self.here)), None)
        return drawn + (disc(across(step[0]), frame.y(step[1]), 6) if step else "")

    def _money(self, frame: Frame, across: Callable[[float], float], tick: float) -> str:
        x, foot = across(tick), frame.y(0)
        words = f"{self.sign}{tick:,.0f}"
        middle = min(max(x, width_of(words) / 2), frame.width - width_of(words) / 2)
        return path(f"M{n(x)} {n(foot)}v5", colour=LINE) + text(middle, foot + 22, words, anchor="middle")

    def _link(self, frame: Frame, across: Callable[[float], float], place: int) -> str:
        """The strip over a step, as tall as the picture: easy to hit with a thumb."""
        money, height = self.steps[place]
        end = across(self.steps[place + 1][0]) if place + 1 < len(self.steps) else frame.x(1)
        said = f"{self.sign}{money:,.0f}: {height:.0f} %"
        area = path(
            f"M{n(across(money))} {n(frame.top)}H{n(end)}V{n(frame.y(0))}H{n(across(money))}Z",
            width=0, fill=RULE, opacity=0.001,
        )  # fmt: skip
        where = escape(self.address(money)) if self.address else ""
        # Not in the row of the tab key: every step stands in the table below as well.
        return f'<a href="{where}" tabindex="-1"><title>{escape(said)}</title>{area}</a>'
