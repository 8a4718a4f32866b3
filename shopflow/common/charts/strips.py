"""Strips: every single figure as a dot on its own line, and spans from early to late."""

from __future__ import annotations

from collections.abc import Callable, Sequence

from shopflow.common.charts.chart import Chart, Number, Span, checked
from shopflow.common.charts.draw import (
    INK,
    LINE,
    RULE,
    SHEET,
    SOFT,
    box,
    disc,
    n,
    path,
    scale,
    text,
    ticks,
    width_of,
)
from shopflow.common.materials import material

WIDTH, PITCH, TOP, BOTTOM = 640.0, 38.0, 8.0, 30.0
Words = Callable[[float], str]


def _plain(value: float) -> str:
    return f"{value:g}"


def _frame(
    names: Sequence[str], low: float, high: float, words: Words
) -> tuple[str, Callable[[float], float], float]:
    """Names at the left, upright rules with figures below: the drawing, its scale, its height."""
    left = max([40.0, *(width_of(name, 15) for name in names)]) + 16
    at = ticks(low, high, 6)
    x = scale(at[0], at[-1], left, WIDTH - 24)
    foot = TOP + PITCH * len(names)
    body = [path(f"M{n(x(t))} {n(TOP)}V{n(foot)}", colour=RULE) for t in at]
    body += [text(x(t), foot + 20, words(t), anchor="middle") for t in at]
    for i, name in enumerate(names):
        middle = TOP + PITCH * (i + 0.5)
        body.append(path(f"M{n(left)} {n(middle)}H{n(WIDTH - 24)}", colour=RULE))
        body.append(text(left - 12, middle + 5, name, anchor="end", colour=INK, size=15))
    return "".join(body), x, foot + BOTTOM


def dots(
    *,
    title: str,
    description: str,
    rows: Sequence[tuple[str, Sequence[Number], str]],
    unit: str = "",
    axis: Words = _plain,
    middles: Sequence[Number | None] | None = None,
) -> Chart:
    """A strip per name, a dot per figure, and an upright mark at the middle one if given.

    `rows` are (name, figures, material); the material may be empty.
    """
    runs = [[v for v in checked(name, values) if v is not None] for name, values, _ in rows]
    known = [v for run in runs for v in run] or [0.0, 1.0]
    body, x, height = _frame([name for name, _, _ in rows], min([0.0, *known]), max(known), axis)
    out = [body]
    for i, ((_, _, slug), run) in enumerate(zip(rows, runs, strict=True)):
        y = TOP + PITCH * (i + 0.5)
        colour = material(slug).colour if slug else INK
        out += [disc(x(v), y, 5, colour, see_through=True) for v in run]
        middle = middles[i] if middles else None
        if middle is not None:
            out.append(path(f"M{n(x(float(middle)))} {n(y - 13)}v26", width=3))
            out.append(text(x(float(middle)) + 7, y - 9, f"{float(middle):g}", colour=INK, bold=True))
    table = tuple((name, value) for name, values, _ in rows for value in values)
    return Chart(title, description, ("", unit or "figure"), table, "".join(out), WIDTH, height)


def spans(
    *, title: str, description: str, rows: Sequence[Span], axis: Words = _plain, now: Number | None = None
) -> Chart:
    """From early to late with the likely day in it; the promise is a flag, today an upright rule."""
    days = [
        float(v) for row in rows for v in (row.early, row.likely, row.late, row.promised) if v is not None
    ]
    days += [float(now)] if now is not None else []
    checked("days", days)
    days = days or [0.0, 1.0]
    body, x, height = _frame([row.name for row in rows], min(days), max(days), axis)
    out = [body]
    if now is not None:
        out.append(
            path(f"M{n(x(float(now)))} {n(TOP)}V{n(height - BOTTOM)}", colour=SOFT, width=2, dash="2 3")
        )
    for i, row in enumerate(rows):
        out.append(_span(row, TOP + PITCH * (i + 0.5), x))
    table = tuple(
        (row.name, *(_day(v, axis) for v in (row.early, row.likely, row.late, row.promised))) for row in rows
    )
    return Chart(
        title, description, ("", "early", "likely", "late", "promised"), table, "".join(out), WIDTH, height
    )


def _day(value: Number | None, axis: Words) -> str | None:
    return None if value is None else axis(float(value))


def _span(row: Span, y: float, x: Callable[[float], float]) -> str:
    early, likely, late = x(float(row.early)), x(float(row.likely)), x(float(row.late))
    bar = box(early, y - 6, max(1.0, late - early), 12, fill="#e6cf9c", line=LINE)
    middle = disc(likely, y, 5.5)
    if row.promised is None:
        return bar + middle
    at = x(float(row.promised))
    flag = path(f"M{n(at)} {n(y + 13)}v-26h11l-4 5l4 5h-11", width=2, fill=SHEET)
    return bar + middle + flag
