"""The charts of a report and of the Year page, drawn from figures alone: the same on a page and on paper."""

from __future__ import annotations

from collections.abc import Mapping, Sequence

from shopflow.common import charts
from shopflow.common.charts import Chart, Series, Target
from shopflow.compute.calendar import IsoWeek
from shopflow.compute.flow import NaturalLimits
from shopflow.planning.selectors.year_outlook import fan

from .figures import Figures, YearSoFar
from .words import compared, number


def of_week(figures: Figures) -> list[Chart]:
    """What was finished lately, the year, and what each department did."""
    return [recent(figures), whole_year(figures), signed(figures)]


def whole_year(figures: Figures) -> Chart:
    """The year up to the week, with the fan of its rest where a plan of those days told it."""
    told, ahead = figures["year"], figures.get("ahead")
    runs = ahead and fan(dict(ahead), weeks=told["weeks"], running=told["running"], aims=told["aims"])
    return runs or year(told)


def recent(figures: Figures) -> Chart:
    """Bars of the last weeks against what each of them needed."""
    rows = figures["recent"]
    needed = [row["needed"] for row in rows]
    has_target = all(one is not None for one in needed)
    total = sum(row["net"] for row in rows)
    return charts.bars(
        title="Finished, week by week",
        description=f"{total} in the last {len(rows)} weeks"
        + (f"; the target needed {number(sum(needed))}." if has_target else "."),
        labels=[short(row["week"]) for row in rows],
        values=[row["net"] for row in rows],
        heads=("week", "finished"),
        target=Target("needed", needed) if has_target else None,
        material="felt",
    )


def signed(figures: Figures) -> Chart:
    """Tasks signed in the last weeks, a layer for each department in its own material."""
    rows = figures["benches"]
    total = sum(row["signed"] for row in rows)
    return charts.stacked_bars(
        title="Tasks signed, by department",
        description=f"{total} in this week, net of what was undone or sent back.",
        labels=[short(row["week"]) for row in figures["recent"]],
        series=[Series(row["name"], row["signed_13_weeks"], row["material"]) for row in rows],
        head="week",
    )


def year(told: YearSoFar) -> Chart:
    """The running count as steps, the target over the weeks in which the shop works as a broken line."""
    weeks, running = told["weeks"], told["running"]
    words = f"{running[-1] if running else 0} finished up to {short(weeks[len(running) - 1])}"
    if told["aim"] is not None and running:
        words += f", {compared(running[-1], told['aim'])} the {number(told['aim'])} that are level"
    return charts.lines(
        title=f"The year {told['year']}",
        description=f"{words}.",
        labels=[short(week) for week in weeks],
        series=[Series("finished", [*running, *([None] * (len(weeks) - len(running)))])],
        target=Target(f"target {told['target']}", told["aims"]) if told["aims"] else None,
        step=True,
    )


def control(counts: Mapping[IsoWeek, int], limits: NaturalLimits, *, words: str) -> Chart:
    """Single weeks between their natural limits. Fewer than none is never drawn as a limit."""
    return charts.control_chart(
        title="Finished a week",
        description=words,
        labels=[short(str(week)) for week in counts],
        values=list(counts.values()),
        centre=round(limits.mean, 2),
        lower=round(max(0.0, limits.lower), 2),
        upper=round(limits.upper, 2),
        heads=("week", "finished"),
    )


def by_route(rows: Sequence[tuple[str, Sequence[int], float]]) -> Chart:
    """A dot for each instrument's days in the house, route by route."""
    return charts.dots(
        title="Days from arrival to finish",
        description="One dot for each instrument finished in the year; the upright mark is the middle one.",
        rows=[(route, days, "neutral") for route, days, _ in rows],
        unit="days",
        middles=[middle for _, _, middle in rows],
    )


def short(week: str) -> str:
    """
    >>> short("2026-W07")
    'W7'
    """
    return f"W{IsoWeek.parse(week).week}"
