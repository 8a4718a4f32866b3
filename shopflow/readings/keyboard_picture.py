"""The 88 keys with their values: a keyboard with a bar above each key. Odd ones bear a diamond."""

from __future__ import annotations

from collections.abc import Callable, Mapping, Set
from dataclasses import dataclass

from shopflow.common.charts.chart import Chart, Drawing
from shopflow.common.charts.draw import INK, LINE, RULE, SOFT, box, n, path, scale, text, ticks

from .note_names import is_sharp, note_name
from .selectors.touch import Weighed

LEFT, RIGHT, TOP, PLOT, KEYS = 40.0, 14.0, 26.0, 170.0, 34.0
BAND, BAR, EARLIER = "#e6eddc", "#6a543a", "#8a6410"


@dataclass(frozen=True, slots=True)
class _Keyboard:
    values: Mapping[int, float]
    earlier: Mapping[int, float]
    odd: Set[int]
    usual: tuple[float, float]

    def on(self, width: float) -> Drawing:
        pitch = (width - LEFT - RIGHT) / 88
        most = max([*self.values.values(), *self.earlier.values(), self.usual[1] * 1.2])
        levels = ticks(0, most)
        y = scale(0, levels[-1], TOP + PLOT, TOP)
        left = {note: LEFT + (note - 1) * pitch for note in range(1, 89)}
        parts = [self._band(width, y(self.usual[0]), y(self.usual[1]))]
        parts += [_rule(width, y(level), level) for level in levels]
        parts += [self._bar(note, left[note], pitch, y) for note in sorted(self.values)]
        parts += [_tick(left[note], pitch, y(value)) for note, value in self.earlier.items()]
        parts += [_key(note, left[note], pitch) for note in range(1, 89)]
        parts += [_name(note, left[note] + pitch / 2) for note in (1, *range(4, 89, 12))]
        return Drawing("".join(parts), width, TOP + PLOT + KEYS + 24)

    def _band(self, width: float, low: float, high: float) -> str:
        ground = box(LEFT, high, width - LEFT - RIGHT, low - high, fill=BAND)
        edges = path(f"M{n(LEFT)} {n(low)}H{n(width - RIGHT)}M{n(LEFT)} {n(high)}H{n(width - RIGHT)}",
                     colour=LINE, dash="2 4")  # fmt: skip
        return ground + edges

    def _bar(self, note: int, x: float, pitch: float, y: Callable[[float], float]) -> str:
        top = y(self.values[note])
        bar = box(x + pitch * 0.14, top, pitch * 0.72, TOP + PLOT - top, fill=BAR)
        if note not in self.odd:
            return bar
        middle, half = x + pitch / 2, max(3.5, pitch * 0.5)
        diamond = (
            f"M{n(middle)} {n(top - 3)}l{n(half)} {n(-half)}l{n(-half)} {n(-half)}l{n(-half)} {n(half)}Z"
        )
        return bar + path(diamond, fill=INK, width=0)


def _rule(width: float, y: float, level: float) -> str:
    line = path(f"M{n(LEFT)} {n(y)}H{n(width - RIGHT)}", colour=RULE, width=0.7)
    return line + text(LEFT - 7, y + 5, f"{level:g}", anchor="end")


def _tick(x: float, pitch: float, y: float) -> str:
    """Where the key stood before the work."""
    return path(f"M{n(x)} {n(y)}h{n(pitch)}", colour=EARLIER, width=2)


def _key(note: int, x: float, pitch: float) -> str:
    top = TOP + PLOT + 2
    if is_sharp(note):
        return box(x, top, pitch, KEYS, fill="#fffdf6", line=LINE) + box(x, top, pitch, KEYS * 0.6, fill=INK)
    return box(x, top, pitch, KEYS, fill="#fffdf6", line=LINE)


def _name(note: int, x: float) -> str:
    return text(x, TOP + PLOT + KEYS + 20, note_name(note), anchor="middle", colour=SOFT, size=12)


def keyboards(before: Weighed, after: Weighed) -> list[Chart]:
    """Balance weight and friction of the 88 keys; where they were weighed after, before is a short line."""
    latest, earlier = (before, None) if after.is_empty else (after, before)
    if latest.is_empty:
        return []
    return [
        _picture("balance", "Balance weight, g", (38.0, 40.0), latest, earlier),
        _picture("friction", "Friction, g", (10.0, 15.0), latest, earlier),
    ]


def _picture(
    what: str, title: str, usual: tuple[float, float], latest: Weighed, earlier: Weighed | None
) -> Chart:
    values, old = _values(what, latest), _values(what, earlier) if earlier else {}
    odd = {each.note for each in latest.odd if each.what == what}
    heads: tuple[str, ...] = ("key", latest.label)
    heads += (earlier.label,) if old and earlier else ()
    rows = tuple(
        (f"{note} {note_name(note)}", values.get(note), *((old.get(note),) if old else ()))
        for note in sorted(values.keys() | old.keys())
    )
    said = f"{latest.label.capitalize()}: {min(values.values()):g} to {max(values.values()):g} g; usual "
    said += f"{usual[0]:g} to {usual[1]:g} g (the pale band)."
    said += f" A diamond stands over {len(odd)} that stand out." if odd else " None stands out."
    said += " The short line is what the key had before." if old else ""
    return Chart(title, said, heads, rows, _Keyboard(values, old, odd, usual).on)


def _values(what: str, weighed: Weighed) -> dict[int, float]:
    return {note: round(getattr(key.touch, f"{what}_g"), 1) for note, key in weighed.keys.items()}
