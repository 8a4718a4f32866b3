"""Invented figures in every kind of chart, for the sampler page."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Protocol

from shopflow.common import charts

WEEKS = [f"W{week}" for week in range(1, 53)]
COUNTS = [2, 1, 1, 0, 2, 1, 2, 1, 1, 1, 1, 1, 1, 1, 0, 2, 1, 1, 0, 1, 0, 1, 1, 6, 1, 1]


class Named(Protocol):
    @property
    def name(self) -> str: ...

    @property
    def material(self) -> str: ...


def all_of_them(departments: Sequence[Named], hours: Sequence[tuple[int, int]]) -> list[charts.Chart]:
    """One chart of each kind."""
    return [
        _year(),
        _weekly(),
        _hours(departments),
        _handed_over(),
        _load(departments, hours),
        _promises(),
        _days(departments),
        _steps(),
    ]


def _year() -> charts.Chart:
    done = [sum(COUNTS[: week + 1]) for week in range(26)]
    low: list[float | None] = [*([None] * 25), *(done[-1] + 0.9 * k for k in range(27))]
    high: list[float | None] = [*([None] * 25), *(done[-1] + 1.55 * k for k in range(27))]
    return charts.lines(
        title="The year",
        description="31 finished of 70 by week 26; 54 to 71 are likely by the end.",
        labels=WEEKS,
        series=[charts.Series("finished", [*done, *([None] * 26)])],
        bands=[charts.Band("likely range", low, high)],
        target=charts.Target("needed", [round(70 * (k + 1) / 52, 1) for k in range(52)]),
        step=True,
    )


def _weekly() -> charts.Chart:
    return charts.control_chart(
        title="Finished a week",
        description="One week lies outside the natural limits.",
        labels=WEEKS[:26],
        values=COUNTS,
        centre=1.2,
        lower=0,
        upper=4.1,
    )


def _hours(departments: Sequence[Named]) -> charts.Chart:
    series = [
        charts.Series(d.name, [18 + (i * 7 + k * 5) % 13 for k in range(6)], d.material)
        for i, d in enumerate(departments)
    ]
    return charts.stacked_bars(
        title="Hours by department",
        description="Hours booked in each of the last six weeks.",
        labels=WEEKS[20:26],
        series=series,
        head="week",
    )


def _handed_over() -> charts.Chart:
    return charts.bars(
        title="Handed over",
        description="Instruments handed over in each month.",
        labels=["Jan", "Feb", "Mar", "Apr", "May", "Jun"],
        values=[4, 6, 5, 4, 7, 5],
        heads=("month", "instruments"),
        target=charts.Target("needed", 5.8),
        material="spruce",
    )


def _load(departments: Sequence[Named], hours: Sequence[tuple[int, int]]) -> charts.Chart:
    loads = [charts.Load(d.name, *pair, d.material) for d, pair in zip(departments, hours, strict=True)]
    return charts.load_bars(
        title="Load this week", description="The action bench is asked for more than it has.", loads=loads
    )


def _promises() -> charts.Chart:
    return charts.spans(
        title="Promises",
        description="Early, likely and late week of finishing; the flag is the promise.",
        rows=[
            charts.Span("Bexcombe 214", 28, 30, 33, 31),
            charts.Span("Thistledown 198", 28, 30, 35, 28),
            charts.Span("Harrow-Lisle 230", 38, 41, 46, 44),
        ],
        axis=lambda week: f"W{week:g}",
        now=26,
    )


def _days(departments: Sequence[Named]) -> charts.Chart:
    rows = [
        (d.name, [3 + (k * 5 + i * 3) % (9 + i) for k in range(11)], d.material)
        for i, d in enumerate(departments[:4])
    ]
    return charts.dots(
        title="Days through each bench",
        description="One dot per instrument finished this year; the upright mark is the middle one.",
        rows=rows,
        unit="days",
        middles=[7, 8, 8, 9],
    )


def _steps() -> charts.Chart:
    steps = [(640, 12), (1_180, 31), (1_260, 36), (2_900, 58), (4_350, 71), (8_800, 88), (14_200, 97)]
    return charts.stairs(
        title="What each sum of money takes away",
        description="£3,500 takes away 58 % of the harm that was found.",
        steps=steps,
        head="price",
        of="of all harm found, %",
        sign="£",
        marked=(3_500, "budget £3,500"),
        here=2_900,
    )
