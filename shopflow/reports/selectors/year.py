"""The Year page: the running count against the target, and what the single weeks say about the shop."""

from __future__ import annotations

from collections import Counter, defaultdict
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import datetime, timedelta
from typing import Any

from django.utils import timezone

from shopflow.catalogue.selectors import the_shop
from shopflow.common.charts import Chart
from shopflow.compute import flow
from shopflow.compute.calendar import IsoWeek, weeks_in_year
from shopflow.compute.flow import Signal
from shopflow.reports import pictures
from shopflow.reports.figures import YearSoFar
from shopflow.reports.stays import Finish, finishes, net_by_week

from . import door, due
from .door import Span
from .target import Aim, aims, so_far

# Natural limits from fewer weeks say more about chance than about the shop (own rule).
FEWEST_WEEKS, MOST_WEEKS = 8, 52


@dataclass(frozen=True, slots=True)
class RouteTimes:
    """Lead times of one route in days."""

    code: str
    name: str
    days: list[int]
    median: float
    p80: float


@dataclass(frozen=True, slots=True)
class Control:
    """The chart of single weeks, and what it asks a reason for."""

    chart: Chart
    signals: list[str]


@dataclass(frozen=True, slots=True)
class YearPage:
    told: YearSoFar
    is_running: bool
    chart: Chart
    control: Control | None
    finished: list[dict[str, Any]]
    opened_again: int
    routes: list[RouteTimes]
    routes_chart: Chart | None


def years(*, now: datetime) -> list[int]:
    """The ISO years that the ledger knows, latest first; the present one always."""
    zone = the_shop().zone
    present, first = IsoWeek.at(now, zone).year, due.first_week(zone)
    return list(range(present, min(first.year if first else present, present) - 1, -1))


def year_page(year: int, *, now: datetime) -> YearPage:
    """Everything the page of an ISO year shows, in a fixed number of queries."""
    zone = the_shop().zone
    last = min(IsoWeek(year, weeks_in_year(year)), IsoWeek.at(now, zone))
    until = min(now, last.bounds_utc(zone)[1])
    start = IsoWeek(year, 1).bounds_utc(zone)[0]
    since = min(start, last.later(-2 * MOST_WEEKS).bounds_utc(zone)[0])
    done = finishes(door.stays_since(since, until=until))
    span, net = Span(start, until), net_by_week(done, zone)
    by_year = aims({year - 2, year - 1, year})
    last_day = timezone.localdate(until - timedelta(microseconds=1), zone)
    told = so_far(by_year[year], net, week=last, last_day=last_day)
    stands = door.gained(done, span)
    rows = _named(stands)
    routes = _routes(rows)
    is_running = until == now
    return YearPage(
        told=told,
        is_running=is_running,
        chart=pictures.year(told),
        control=_control(_steady_weeks(net, by_year, last=last.previous() if is_running else last)),
        finished=rows[::-1],
        opened_again=len(door.lost(done, span)),
        routes=routes,
        routes_chart=pictures.by_route([(route.code or "none", route.days, route.median) for route in routes])
        if routes
        else None,
    )


def _named(done: Sequence[Finish]) -> list[dict[str, Any]]:
    names = door.named(one.instrument_id for one in done)
    return [
        names[one.instrument_id] | {"arrived_on": one.arrived_on, "finished_on": one.on, "days": one.days}
        for one in done
    ]


def _routes(rows: Sequence[dict[str, Any]]) -> list[RouteTimes]:
    days: dict[str, list[int]] = defaultdict(list)
    for row in rows:
        if row["days"] is not None:
            days[row["route"]].append(row["days"])
    return [_times(route, known) for route, known in sorted(days.items())]


def _times(route: str, days: list[int]) -> RouteTimes:
    code, _, name = route.partition(" ")
    median, p80 = flow.percentiles(days, [0.5, 0.8])
    return RouteTimes(code, name or "no route", sorted(days), round(median, 1), round(p80, 1))


def _steady_weeks(net: Counter[IsoWeek], by_year: Mapping[int, Aim], *, last: IsoWeek) -> dict[IsoWeek, int]:
    """The last weeks in which the shop was open, from its first finish on (a closed one looks bad)."""
    first = max(min(net, default=last), last.later(1 - 2 * MOST_WEEKS))
    weeks = [week for week in first.until(last) if by_year[week.year].shares[week]] if first <= last else []
    return {week: net[week] for week in weeks[-MOST_WEEKS:]}


def _control(counts: dict[IsoWeek, int]) -> Control | None:
    if len(counts) < FEWEST_WEEKS:
        return None
    limits = flow.natural_limits(counts.values())
    weeks = list(counts)
    found = [_said(signal, weeks) for signal in flow.signals(counts.values(), limits)]
    words = f"{len(counts)} open weeks, on average {limits.mean:.2f}. "
    words += "Some ask for a reason." if found else "Nothing but ordinary variation."
    return Control(pictures.control(counts, limits, words=words), found)


def _said(signal: Signal, weeks: Sequence[IsoWeek]) -> str:
    first, last = weeks[signal.first], weeks[signal.last]
    return f"{first}: {signal.words}." if first == last else f"{first} to {last}: {signal.words}."
