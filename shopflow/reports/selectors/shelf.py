"""The shelf of weekly reports: every week since the ledger began, with its report or without."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import datetime
from typing import Any

from django.core.paginator import Page, Paginator
from django.db.models import Q

from shopflow.catalogue.selectors import the_shop
from shopflow.common.models import Job
from shopflow.compute.calendar import IsoWeek
from shopflow.reports.models import WeeklyReport

from . import due

A_PAGE = 26


@dataclass(frozen=True, slots=True)
class Shelved:
    """One week on the shelf."""

    week: IsoWeek
    report: WeeklyReport | None
    is_running: bool


def shelf(page: str | None, *, now: datetime) -> Page[Any]:
    """A page of weeks, latest first, each with its report; a fixed number of queries."""
    zone = the_shop().zone
    first, present = due.first_week(zone), IsoWeek.at(now, zone)
    weeks = list(first.until(present))[::-1] if first else []
    shown: Page[Any] = Paginator(weeks, A_PAGE).get_page(page)
    there = _reports(list(shown.object_list))
    shown.object_list = [Shelved(week, there.get(week), week == present) for week in shown.object_list]
    return shown


def _reports(weeks: list[IsoWeek]) -> dict[IsoWeek, WeeklyReport]:
    if not weeks:
        return {}
    within = Q(year=weeks[-1].year, week__gte=weeks[-1].week) | Q(year__gt=weeks[-1].year)
    found = WeeklyReport.objects.filter(within, year__lte=weeks[0].year)
    return {report.iso_week: report for report in found}


def neighbours(week: IsoWeek, *, now: datetime) -> tuple[IsoWeek | None, IsoWeek | None]:
    """The weeks before and after this one, as far as there is anything to tell of them."""
    zone = the_shop().zone
    first, present = due.first_week(zone), IsoWeek.at(now, zone)
    earlier, later = week.previous(), week.next()
    return earlier if first and earlier >= first else None, later if later <= present else None


def job_for(week: IsoWeek) -> Job | None:
    """The last job that somebody asked for to make this week's report."""
    return Job.objects.filter(kind=due.KIND, unique_key=f"{due.KIND}:{week}").order_by("-pk").first()
