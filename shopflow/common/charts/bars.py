"""Bars: counts by week, hours by department, load against the hours to be had."""

from __future__ import annotations

from collections.abc import Callable, Sequence

from shopflow.common.charts.chart import Chart, Load, Number, Series, Target, checked, same_length, written
from shopflow.common.charts.draw import (
    INK,
    SOFT,
    box,
    labels_below,
    n,
    path,
    rules_across,
    scale,
    text,
    ticks,
    width_of,
)
from shopflow.common.materials import patch

WIDTH, HEIGHT = 640.0, 280.0
LEFT, TOP, BOTTOM = 46.0, 26.0, 34.0
Place = Callable[[float], float]


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
    same_length(labels, heads[1], values)
    series = [Series(heads[1], values, material)]
    return stacked_bars(
        title=title, description=description, labels=labels, series=series, head=heads[0], target=target
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
    """Bars on top of one another, named at the right beside the last of them."""
    for one in series:
        same_length(labels, one.name, one.values)
    runs = [[max(0.0, v or 0.0) for v in checked(one.name, one.values)] for one in series]
    totals = [sum(column) for column in zip(*runs, strict=True)]
    named = [one.name for one in series] if len(series) > 1 else []
    right = WIDTH - max([12.0, *(width_of(name) + 40 for name in named), _target_room(target)])
    aims = target.along(len(labels)) if target else []
    at = ticks(0, max([1.0, *totals, *aims]))
    place = scale(at[0], at[-1], HEIGHT - BOTTOM, TOP)
    pitch = (right - LEFT) / max(1, len(labels))
    body = rules_across(at, place, LEFT, right) + _columns(series, runs, place, pitch)
    body += _totals(totals, place, pitch)
    middles = [LEFT + pitch * (i + 0.5) for i in range(len(labels))]
    body += labels_below(labels, middles, HEIGHT - 12, pitch)
    body += _names(named, series, runs, place, right) + _aim(target, aims, place, pitch, right)
    rows = tuple((label, *(one.values[i] for one in series)) for i, label in enumerate(labels))
    heads = (head, *(one.name for one in series))
    if target:
        rows = tuple((*row, aims[i]) for i, row in enumerate(rows))
        heads = (*heads, target.name)
    return Chart(title, description, heads, rows, body, WIDTH, HEIGHT)


def _target_room(target: Target | None) -> float:
    return width_of(target.name) + 16 if target else 0.0


def _columns(series: Sequence[Series], runs: list[list[float]], place: Place, pitch: float) -> str:
    wide = min(46.0, pitch * 0.68)
    out = []
    floor = [0.0] * (len(runs[0]) if runs else 0)
    for one, run in zip(series, runs, strict=True):
        for i, value in enumerate(run):
            x = LEFT + pitch * (i + 0.5) - wide / 2
            top, foot = place(floor[i] + value), place(floor[i])
            out.append(patch(one.material, x, top, wide, foot - top))
            floor[i] += value
    return "".join(out)


def _totals(totals: list[float], place: Place, pitch: float) -> str:
    if pitch < 22:
        return ""
    return "".join(
        text(LEFT + pitch * (i + 0.5), place(total) - 6, f"{total:g}", anchor="middle", colour=INK, bold=True)
        for i, total in enumerate(totals)
        if total
    )


def _names(
    named: list[str], series: Sequence[Series], runs: list[list[float]], place: Place, right: float
) -> str:
    """Each layer's name beside the last bar, with a small patch, kept from overlapping."""
    out, foot, taken = [], 0.0, HEIGHT
    for i, name in enumerate(named):
        last = runs[i][-1] if runs[i] else 0.0
        y = min(place(foot + last / 2) + 5, taken - 18)
        taken = y
        out.append(
            patch(series[i].material, right + 10, y - 11, 18, 13) + text(right + 34, y, name, colour=INK)
        )
        foot += last
    return "".join(out)


def _aim(target: Target | None, aims: list[float], place: Place, pitch: float, right: float) -> str:
    if not target or not aims:
        return ""
    d = "".join(f"M{n(LEFT + pitch * i + 2)} {n(place(aim))}h{n(pitch - 4)}" for i, aim in enumerate(aims))
    if len(set(aims)) == 1:
        d = f"M{n(LEFT)} {n(place(aims[0]))}H{n(right)}"
    return path(d, colour=INK, width=2, dash="7 4") + text(
        right + 8, place(aims[-1]) + 5, target.name, colour=INK
    )


def load_bars(*, title: str, description: str, loads: Sequence[Load], unit: str = "h") -> Chart:
    """A level bar per department: hours wanted, with a tick where the hours to be had end."""
    top, pitch = 8.0, 40.0
    left = max([60.0, *(width_of(load.name, 15) for load in loads)]) + 14
    most = max([1.0, *(float(max(load.wanted, load.to_be_had)) for load in loads)])
    place = scale(0, most, left, WIDTH - 150)
    body = []
    for i, load in enumerate(loads):
        y = top + i * pitch
        body.append(text(left - 12, y + 20, load.name, anchor="end", colour=INK, size=15))
        body.append(_one_load(load, y + 4, 22, left, place))
        words = f"{written(load.wanted)} of {written(load.to_be_had)} {unit}"
        body.append(
            text(
                max(place(float(load.wanted)), place(float(load.to_be_had))) + 12,
                y + 20,
                words,
                bold=_over(load),
            )
        )
    rows = tuple((load.name, load.wanted, load.to_be_had) for load in loads)
    heads = ("department", f"wanted, {unit}", f"to be had, {unit}")
    return Chart(title, description, heads, rows, "".join(body), WIDTH, top * 2 + pitch * len(loads))


def load_bar(*, title: str, load: Load, unit: str = "h") -> Chart:
    """The small bar in a column head of the Floor: what is ready against what can be done."""
    most = max(1.0, float(load.wanted), float(load.to_be_had))
    place = scale(0, most, 1, 159)
    said = f"{written(load.wanted)} {unit} wanted, {written(load.to_be_had)} {unit} to be had"
    rows = ((load.name, load.wanted, load.to_be_had),)
    heads = ("department", f"wanted, {unit}", f"to be had, {unit}")
    return Chart(title, said, heads, rows, _one_load(load, 1, 10, 1, place), 160, 12)


def _over(load: Load) -> bool:
    return load.wanted > load.to_be_had


def _one_load(load: Load, y: float, high: float, left: float, place: Place) -> str:
    """Trough, filling, end mark; what is too much stands beyond the mark and is drawn solid."""
    wanted, room = place(max(0.0, float(load.wanted))), place(max(0.0, float(load.to_be_had)))
    trough = box(left, y, max(0.0, room - left), high, fill="#fffdf6", line=SOFT)
    filling = patch(load.material, left, y, min(wanted, room) - left, high)
    too_much = box(room, y, wanted - room, high, fill=INK) if wanted > room else ""
    return trough + filling + too_much + path(f"M{n(room)} {n(y - 1)}v{n(high + 2)}", width=2.5)
