"""Which weeks are over, and which of them still want a report."""

from __future__ import annotations

from datetime import datetime, time, timedelta
from zoneinfo import ZoneInfo

from shopflow.compute.calendar import IsoWeek
from shopflow.reports.models import WeeklyReport
from shopflow.workshop.models import Passage

KIND = "weekly-report"
READY_AT = time(6)
# A deed that began in the week's last second may be written a moment after it.
SETTLES_WITHIN = timedelta(minutes=1)
# A machine that was off for longer, or a clock that jumped, must not fill the shelf by itself.
CATCH_UP = 26


def is_over(week: IsoWeek, *, now: datetime, zone: ZoneInfo) -> bool:
    return now >= week.bounds_utc(zone)[1] + SETTLES_WITHIN


def first_week(zone: ZoneInfo) -> IsoWeek | None:
    """The week in which the ledger begins; None while nothing ever passed the door."""
    begun = Passage.objects.order_by("pk").values_list("recorded_at", flat=True).first()
    return IsoWeek.at(begun, zone) if begun else None


def last_due(*, now: datetime, zone: ZoneInfo) -> IsoWeek:
    """The latest week whose report should exist: since Monday at six the one that ended the night before."""
    local = now.astimezone(zone)
    over = IsoWeek.at(now, zone).previous()
    at_night = local.weekday() == 0 and local.time() < READY_AT
    return over.previous() if at_night else over


def weeks_due(*, now: datetime, zone: ZoneInfo) -> list[IsoWeek]:
    """The finished weeks without a report, oldest first, as far back as the clock looks by itself."""
    first, last = first_week(zone), last_due(now=now, zone=zone)
    if first is None:
        return []
    made = {IsoWeek(*pair) for pair in WeeklyReport.objects.order_by().values_list("year", "week")}
    reach = max(first, last.later(1 - CATCH_UP))
    return [week for week in reach.until(last) if week not in made]


def is_unsent(week: IsoWeek) -> bool:
    return WeeklyReport.objects.filter(year=week.year, week=week.week, mailed_at=None).exists()


def report_of(week: IsoWeek) -> WeeklyReport | None:
    return WeeklyReport.objects.filter(year=week.year, week=week.week).first()
