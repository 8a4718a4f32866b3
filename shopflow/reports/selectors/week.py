"""The figures of one ISO week, read from the ledger as it stood when the week ended.

Everything counts by the server's clock and in the week of the shop's own time zone. A report made late tells
the same as one made at once; a tap that reached the shop late counts in the week in which it came, and is
told of. Names, likely hours and the target are those of the day on which the report is made; hours that were
taken back (within a day of entering them) leave no line, so a report made before that still holds them.
"""

from __future__ import annotations

from collections import Counter
from dataclasses import dataclass
from datetime import date, datetime, timedelta
from typing import Any

from django.utils import timezone

from shopflow.catalogue.models import Department, Shop
from shopflow.catalogue.selectors import the_shop
from shopflow.compute.calendar import IsoWeek
from shopflow.reports.figures import FORMAT, Bench, Figures, Finished, InHand
from shopflow.reports.stays import Finish, Stay, finishes, net_by_week

from . import benches, door, in_hand
from .door import Span
from .in_hand import OpenTask
from .target import Aim, aims, rounded, so_far

RECENT = 13

# So long after it came an arrival may be written down and still be told as one of the week.
WRITTEN_DOWN_WITHIN = timedelta(days=14)


@dataclass(frozen=True, slots=True)
class Told:
    """All that was read for one week."""

    shop: Shop
    week: IsoWeek
    span: Span
    stays: list[Stay]
    finishes: list[Finish]
    net: Counter[IsoWeek]
    tasks: list[OpenTask]
    snags: list[dict[str, Any]]
    aims: dict[int, Aim]

    @property
    def in_house(self) -> list[Stay]:
        return [stay for stay in self.stays if stay.is_in_house]

    @property
    def recent_weeks(self) -> list[IsoWeek]:
        return list(self.week.later(1 - RECENT).until(self.week))

    @property
    def last_day(self) -> date:
        """Sunday; in a running week the day it is."""
        just_before = self.span.end - timedelta(microseconds=1)
        return timezone.localdate(just_before, self.shop.zone)


def week_figures(week: IsoWeek, *, until: datetime | None = None) -> Figures:
    """The figures of a week; with `until`, of as much of it as is over. A fixed number of queries."""
    shop = the_shop()
    start, end = week.bounds_utc(shop.zone)
    running = until is not None and until < end
    told = _read(shop, week, Span(start, until if running and until else end))
    done = door.gained(told.finishes, told.span)
    again = door.lost(told.finishes, told.span)
    arrived = [stay for stay in told.stays if told.span.holds(stay.arrived_at) and _just_came(stay, week)]
    left = [stay for stay in told.stays if told.span.holds(stay.left_at)]
    told_of = [one.instrument_id for one in [*done, *again]] + [
        stay.instrument_id for stay in [*arrived, *left]
    ]
    names = door.named(told_of)
    quarter = Span(week.later(1 - door.LONG_WEEKS).bounds_utc(shop.zone)[0], told.span.end)
    return Figures(
        format=FORMAT,
        week=str(week),
        first_day=week.monday().isoformat(),
        last_day=week.sunday().isoformat(),
        until=told.span.end.isoformat(),
        so_far=running,
        shop={"name": shop.name, "town": shop.town, "zone": shop.time_zone, "is_demo": shop.is_demo},
        finished=Finished(
            net=told.net[week],
            rows=[names[one.instrument_id] | _finish(one) for one in done],
            opened_again=[names[one.instrument_id] | _finish(one) for one in again],
        ),
        needed=rounded(told.aims[week.year].needed_in(week)),
        arrived=[_arriving(one, names[one.instrument_id]) for one in arrived],
        left=[names[one.instrument_id] | _leaving(one) for one in left],
        benches=_benches(told),
        in_hand=_in_hand(told),
        lead_week=door.lead_times(told.finishes, told.span),  # type: ignore[typeddict-item]
        lead_13_weeks=door.lead_times(told.finishes, quarter),  # type: ignore[typeddict-item]
        littles_law=door.littles_law(told.stays, last=told.last_day),
        snags=told.snags,
        snag_ages=in_hand.by_age(told.snags),
        recent=_recent(told),
        year=so_far(told.aims[week.year], told.net, week=week, last_day=told.last_day),
        late_taps=benches.late_taps(told.span),
        last_move=benches.last_line(until=told.span.end),
    )


def _read(shop: Shop, week: IsoWeek, span: Span) -> Told:
    first = min(week.later(1 - RECENT), IsoWeek(week.year, 1))
    since = first.bounds_utc(shop.zone)[0]
    stays = door.stays_since(since, until=span.end)
    done = finishes(stays)
    here = {stay.instrument_id for stay in stays if stay.is_in_house}
    tasks = in_hand.open_tasks(at=span.end)
    snags = in_hand.open_snags(at=span.end, among={task.pk for task in tasks if task.instrument_id in here})
    years = {first.year, week.year}
    return Told(shop, week, span, stays, done, net_by_week(done, shop.zone), tasks, snags, aims(years))


def _benches(told: Told) -> list[Bench]:
    here = {stay.instrument_id for stay in told.in_house}
    open_here = [task for task in told.tasks if task.instrument_id in here and not task.at_the_owners]
    stopped = {snag["task_id"] for snag in told.snags}
    starts = [week.bounds_utc(told.shop.zone)[0] for week in told.recent_weeks]
    work = benches.work_done(starts, until=told.span.end)
    none = benches.Work(signed_by_week=[0] * RECENT)
    departments = Department.objects.all()
    rows = []
    for department in departments:
        own = [task for task in open_here if task.department_id == department.pk]
        if department.retired_at is None or own or department.pk in work:
            rows.append(_bench(department, work.get(department.pk, none), own, stopped))
    return rows


def _bench(department: Department, work: benches.Work, own: list[OpenTask], stopped: set[int]) -> Bench:
    states = Counter("stopped" if task.pk in stopped else task.kind for task in own)
    return Bench(
        code=department.code,
        name=department.name,
        mark=department.mark,
        material=department.material or "neutral",
        signed=work.signed,
        signed_13_weeks=work.signed_by_week,
        hours_earned=round(float(work.earned), 2),
        hours_spent=round(float(work.spent), 2),
        racked=states["racked"],
        benched=states["benched"],
        resting=states["resting"],
        proving=states["proving"],
        stopped=states["stopped"],
        hours_open=round(float(sum(task.hours for task in own)), 2),
    )


def _in_hand(told: Told) -> InHand:
    finished = {stay.instrument_id for stay in told.in_house if stay.finish}
    unfinished = {stay.instrument_id: stay for stay in told.in_house if not stay.finish}
    moved = in_hand.last_moved(unfinished.keys(), at=told.span.end)
    under_way = sum(
        pk in moved and stay.arrived_at is not None and moved[pk] >= stay.arrived_at
        for pk, stay in unfinished.items()
    )
    here = {*finished, *unfinished}
    return InHand(
        in_house=len(here),
        not_started=len(unfinished) - under_way,
        under_way=under_way,
        finished_waiting=len(finished),
        at_the_owners=sum(task.at_the_owners and task.instrument_id not in here for task in told.tasks),
    )


def _recent(told: Told) -> list[dict[str, Any]]:
    """The last weeks, each with its count and what it needed."""
    return [
        {
            "week": str(week),
            "net": told.net[week],
            "needed": rounded(told.aims[week.year].needed_in(week)),
        }
        for week in told.recent_weeks
    ]


def _finish(one: Finish) -> dict[str, Any]:
    return {"arrived_on": _iso(one.arrived_on), "finished_on": _iso(one.on), "days": one.days}


def _just_came(stay: Stay, week: IsoWeek) -> bool:
    """Whether it came about when it was written down; one of a list brought in did not come in this week."""
    return stay.arrived_on is not None and stay.arrived_on >= week.monday() - WRITTEN_DOWN_WITHIN


def _arriving(stay: Stay, named: dict[str, str]) -> dict[str, Any]:
    """Without a route: that is chosen later, and a report made late would tell more than a punctual one."""
    return {"number": named["number"], "title": named["title"], "on": _iso(stay.arrived_on)}


def _leaving(stay: Stay) -> dict[str, Any]:
    return {"on": _iso(stay.left_on), "finished_on": _iso(stay.finish.on) if stay.finish else None}


def _iso(day: date | None) -> str | None:
    return day.isoformat() if day else None
