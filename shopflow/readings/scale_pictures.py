"""The curves of a scale: tension, breaking share, inharmonicity, speaking length, with the breaks marked."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from typing import Any

from shopflow.common import charts
from shopflow.compute.strings import HIGHEST_SHARE

from .selectors.scale import Line, Reckoned

LABELS = [str(note) for note in range(1, 89)]
Figure = Callable[[Line], float | None]


def curves(*scales: Reckoned) -> list[charts.Chart]:
    """Four charts of one scale, or of two beside each other."""
    shown = [each for each in scales if each.lines]
    if not shown:
        return []
    return [
        _tension(shown),
        _share(shown),
        *(
            [_stiffness(shown)]
            if any(line.figures.inharmonicity for each in shown for line in each.lines)
            else []
        ),
        _length(shown),
    ]


def _tension(scales: Sequence[Reckoned]) -> charts.Chart:
    return charts.lines(
        title="Tension of each string, N",
        description=_told(scales, lambda line: line.figures.tension_n, "N"),
        series=_series(scales, lambda line: round(line.figures.tension_n, 1)),
        from_zero=False,
        **_common(scales),
    )


def _share(scales: Sequence[Reckoned]) -> charts.Chart:
    def figure(line: Line) -> float | None:
        share = line.figures.breaking_share
        return None if share is None else round(share * 100, 1)

    return charts.lines(
        title="Share of the breaking load, %",
        description=_told(scales, figure, "%") + f" Strength: {scales[0].strength_words}.",
        series=_series(scales, figure),
        target=charts.Target("usual most", round(HIGHEST_SHARE * 100)),
        **_common(scales),
    )


def _stiffness(scales: Sequence[Reckoned]) -> charts.Chart:
    def figure(line: Line) -> float | None:
        b = line.figures.inharmonicity
        return None if b is None else round(b * 1e4, 3)

    return charts.lines(
        title="Inharmonicity B of plain wire, ten-thousandths",
        description="Each level of the axis is a multiple of the one below. Wound strings have no "
        "figure: the formula holds for plain wire alone.",
        series=_series(scales, figure),
        is_log=True,
        **_common(scales),
    )


def _length(scales: Sequence[Reckoned]) -> charts.Chart:
    return charts.lines(
        title="Speaking length, mm",
        description="Each level of the axis is a multiple of the one below: an even scale runs straight.",
        series=_series(scales[:1] if _same_lengths(scales) else scales, lambda line: line.row.length_mm),
        is_log=True,
        **_common(scales),
    )


def _same_lengths(scales: Sequence[Reckoned]) -> bool:
    lengths = [[(line.row.note, line.row.length_mm) for line in each.lines] for each in scales]
    return all(each == lengths[0] for each in lengths)


def _common(scales: Sequence[Reckoned]) -> dict[str, Any]:
    breaks = {(each.below + each.above) / 2 - 1: f"{each.below}|{each.above}" for each in scales[0].breaks}
    marks = [charts.Mark(name, at) for at, name in sorted(breaks.items())]
    return {"labels": LABELS, "head": "note", "marks": marks}


def _series(scales: Sequence[Reckoned], figure: Figure) -> list[charts.Series]:
    return [
        charts.Series(_name(each, len(scales)), _run(each, figure), "steel" if place == 0 else "brass")
        for place, each in enumerate(scales)
    ]


def _name(each: Reckoned, count: int) -> str:
    return each.scale.get_kind_display() if count > 1 else "strings"


def _run(each: Reckoned, figure: Figure) -> list[float | None]:
    by_note = {line.row.note: figure(line) for line in each.lines}
    return [by_note.get(note) for note in range(1, 89)]


def _told(scales: Sequence[Reckoned], figure: Figure, unit: str) -> str:
    said = []
    for each in scales:
        values = [(value, line.row.note) for line in each.lines if (value := figure(line)) is not None]
        if not values:
            continue
        (low, at_low), (high, at_high) = min(values), max(values)
        name = f"{each.scale.get_kind_display().capitalize()}: " if len(scales) > 1 else ""
        said.append(f"{name}{low:,.0f} {unit} at note {at_low} to {high:,.0f} {unit} at note {at_high}.")
    return " ".join(said)
