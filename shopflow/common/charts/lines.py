"""Lines over time: what was finished against what was needed, a forecast's fan, a control chart."""

from __future__ import annotations

from collections.abc import Callable, Sequence

from shopflow.common.charts.chart import Band, Cell, Chart, Number, Series, Target, checked, same_length
from shopflow.common.charts.draw import (
    INK,
    SHEET,
    SOFT,
    disc,
    labels_below,
    n,
    path,
    rules_across,
    scale,
    text,
    ticks,
    width_of,
)
from shopflow.common.materials import material

WIDTH, HEIGHT = 640.0, 300.0
LEFT, TOP, BOTTOM = 46.0, 18.0, 34.0
DASHES = ("", "9 4", "3 3", "12 3 3 3", "1 4")
Place = Callable[[float], float]


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
) -> Chart:
    """Lines named at their right end; bands lie beneath them, the target is a broken line."""
    for one in series:
        same_length(labels, one.name, one.values)
    for band in bands:
        same_length(labels, f"{band.name}, low", band.low)
        same_length(labels, f"{band.name}, high", band.high)
    aims = target.along(len(labels)) if target else []
    if target:
        same_length(labels, target.name, aims)
    runs = [checked(one.name, one.values) for one in series]
    edges = [checked(band.name, run) for band in bands for run in (band.low, band.high)]
    known = [v for run in [*runs, *edges] for v in run if v is not None] + aims
    at = ticks(min([0.0, *known]), max([1.0, *known]))
    names = [
        *(one.name for one in series),
        *(band.name for band in bands),
        *([target.name] if target else []),
    ]
    right = WIDTH - max([20.0, *(width_of(name) + 16 for name in names)])
    x = scale(0, max(1, len(labels) - 1), LEFT + 6, right - 4)
    y = scale(at[0], at[-1], HEIGHT - BOTTOM, TOP)
    body = rules_across(at, y, LEFT, right)
    body += "".join(_band(edges[2 * i], edges[2 * i + 1], x, y, i) for i in range(len(bands)))
    body += path(_line(aims, x, y, step=False), colour=SOFT, width=2, dash="7 5") if target else ""
    body += "".join(
        _series(one, runs[i], x, y, step, DASHES[i % len(DASHES)]) for i, one in enumerate(series)
    )
    places = [x(i) for i in range(len(labels))]
    body += labels_below(labels, places, HEIGHT - 12, (right - LEFT) / max(1, len(labels) - 1))
    ends = [(one.name, runs[i], True) for i, one in enumerate(series)]
    ends += [(band.name, edges[2 * i + 1], False) for i, band in enumerate(bands)]
    ends += [(target.name, list(aims), False)] if target else []
    body += _end_names(ends, x, y, right)
    return Chart(title, description, *_table(head, labels, series, bands, target, aims), body, WIDTH, HEIGHT)


def _table(
    head: str,
    labels: Sequence[str],
    series: Sequence[Series],
    bands: Sequence[Band],
    target: Target | None,
    aims: list[float],
) -> tuple[tuple[str, ...], tuple[tuple[Cell, ...], ...]]:
    columns: list[tuple[str, Sequence[Cell]]] = [(one.name, one.values) for one in series]
    for band in bands:
        columns += [(f"{band.name}, low", band.low), (f"{band.name}, high", band.high)]
    if target:
        columns.append((target.name, aims))
    rows = tuple((label, *(run[i] for _, run in columns)) for i, label in enumerate(labels))
    return (head, *(name for name, _ in columns)), rows


def _line(run: Sequence[float | None], x: Place, y: Place, *, step: bool) -> str:
    out, pen_down, last = [], False, 0.0
    for i, value in enumerate(run):
        if value is None:
            pen_down = False
            continue
        here = f"{n(x(i))} {n(y(value))}"
        if not pen_down:
            out.append(f"M{here}")
        elif step:
            out.append(f"H{n(x(i))}V{n(y(value))}")
        else:
            out.append(f"L{here}")
        pen_down, last = True, value
    return "".join(out) if out else f"M0 {n(last)}"


def _series(one: Series, run: list[float | None], x: Place, y: Place, step: bool, dash: str) -> str:
    colour = material(one.material).colour if one.material else INK
    known = [(i, v) for i, v in enumerate(run) if v is not None]
    if not known:
        return ""
    i, value = known[-1]
    return path(_line(run, x, y, step=step), colour=colour, width=2.6, dash=dash) + disc(
        x(i), y(value), 4, colour
    )


def _band(low: list[float | None], high: list[float | None], x: Place, y: Place, depth: int) -> str:
    both = [
        (i, a, b) for i, (a, b) in enumerate(zip(low, high, strict=True)) if a is not None and b is not None
    ]
    if not both:
        return ""
    out = "M" + "L".join(f"{n(x(i))} {n(y(b))}" for i, _, b in both)
    back = "".join(f"L{n(x(i))} {n(y(a))}" for i, a, _ in reversed(both))
    fill = ("#e6cf9c", "#d5b06d", "#b98d44")[depth % 3]
    return path(f"{out}{back}Z", colour="#8a6410", width=0.8, fill=fill, opacity=0.75)


def _end_names(ends: list[tuple[str, list[float | None], bool]], x: Place, y: Place, right: float) -> str:
    """Names at the right, pushed apart so that none covers another."""
    wanted = []
    for name, run, bold in ends:
        known = [v for v in run if v is not None]
        if known:
            wanted.append((y(known[-1]), name, bold))
    out, last = [], TOP - 14
    for place, name, bold in sorted(wanted):
        last = max(place, last + 17)
        out.append(text(right + 8, last + 5, name, colour=INK if bold else SOFT, bold=bold))
    return "".join(out)


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
    run = checked(heads[1], values)
    limits = [
        ("upper limit", float(upper), "3 3"),
        ("average", float(centre), ""),
        ("lower limit", float(lower), "3 3"),
    ]
    known = [v for v in run if v is not None] + [v for _, v, _ in limits]
    at = ticks(min([0.0, *known]), max([1.0, *known]))
    right = WIDTH - width_of("upper limit 00.0") - 8
    x = scale(0, max(1, len(labels) - 1), LEFT + 8, right - 8)
    y = scale(at[0], at[-1], HEIGHT - BOTTOM, TOP)
    body = rules_across(at, y, LEFT, right)
    body += "".join(
        path(f"M{n(LEFT)} {n(y(v))}H{n(right)}", colour=SOFT, width=1.6, dash=d) for _, v, d in limits
    )
    body += _end_names([(f"{name} {v:g}", [v], False) for name, v, _ in limits], x, y, right)
    body += path(_line(run, x, y, step=False), colour=INK, width=1.6)
    body += "".join(
        _point(v, x(i), y(v), float(lower) <= v <= float(upper)) for i, v in enumerate(run) if v is not None
    )
    body += labels_below(
        labels, [x(i) for i in range(len(labels))], HEIGHT - 12, (right - LEFT) / max(1, len(labels) - 1)
    )
    rows = tuple((label, value) for label, value in zip(labels, values, strict=True))
    return Chart(title, description, heads, rows, body, WIDTH, HEIGHT)


def _point(value: float, x: float, y: float, inside: bool) -> str:
    if inside:
        return disc(x, y, 3.5)
    diamond = path(f"M{n(x)} {n(y - 8)}l8 8l-8 8l-8 -8Z", width=2.4, fill=SHEET)
    return diamond + text(x, y - 13, f"{value:g}", anchor="middle", colour=INK, bold=True)
