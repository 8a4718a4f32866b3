"""Will we make the year's number? The published plan's answer, for the Year page."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import datetime
from typing import Any

from shopflow.common import charts
from shopflow.common.charts import Band, Chart, Series, Target
from shopflow.common.odds import odds_in_words
from shopflow.compute.calendar import IsoWeek
from shopflow.planning.models import Plan

from .load import load_table, moves_since
from .narrow import Narrow, narrow_place
from .plans import published


@dataclass(frozen=True, slots=True)
class YearAhead:
    """What the plan says of the rest of the year."""

    plan: Plan
    figures: dict[str, Any]
    chart: Chart | None
    narrow: Narrow | None
    moves_since: int

    @property
    def percent(self) -> int:
        return round(100 * self.figures["odds"])

    @property
    def odds_words(self) -> str:
        return odds_in_words(self.figures["odds"])

    @property
    def sized(self) -> dict[str, float] | None:
        return self.figures.get("sized")

    @property
    def sized_by_the_end(self) -> float | None:
        return self.sized["finished"] + self.sized["floor"] if self.sized else None


def year_ahead(
    year: int,
    *,
    now: datetime,
    weeks: Sequence[str],
    running: Sequence[int],
    aims: Sequence[float] | None = None,
) -> YearAhead | None:
    """The rest of a year by the plan that stands; None without a plan or a target for that year.

    `weeks` are all ISO weeks of the year as "2026-W07", `running` the count up to the present one, `aims`
    what should be finished by the end of each.
    """
    plan = published()
    figures = (plan.figures.get("year") if plan else None) or {}
    if plan is None or figures.get("year") != year:
        return None
    return YearAhead(
        plan=plan,
        figures=figures,
        chart=fan(figures, weeks=weeks, running=running, aims=aims),
        narrow=narrow_place(load_table(plan, now=now)),
        moves_since=moves_since(plan),
    )


def fan(
    figures: dict[str, Any], *, weeks: Sequence[str], running: Sequence[int], aims: Sequence[float] | None
) -> Chart | None:
    """The count so far, and where the runs of the plan take it week by week."""
    ahead = {row["week"]: row for row in figures.get("weeks", [])}
    if not any(week in ahead for week in weeks):
        return None
    low, middle, high = ([ahead[week][name] if week in ahead else None for week in weeks] for name in _SHARES)
    return charts.lines(
        title=f"Where the year {figures['year']} will end",
        description=f"{figures['p10']} to {figures['p90']} by its end in 8 of 10 runs of the plan, "
        f"{figures['p50']} in the middle; the target is {figures['target']}.",
        labels=[f"W{IsoWeek.parse(week).week}" for week in weeks],
        series=[
            Series("finished", [*running, *([None] * (len(weeks) - len(running)))]),
            Series("middle", middle),
        ],
        bands=[Band("8 of 10 runs", low, high)],
        target=Target(f"target {figures['target']}", aims) if aims else None,
    )


_SHARES = ("p10", "p50", "p90")
