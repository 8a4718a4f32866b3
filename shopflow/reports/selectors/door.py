"""What came in, was finished and went out: read from the passages as they stood at some moment."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from datetime import date, datetime, timedelta

from django.db.models import Q

from shopflow.compute import flow
from shopflow.instruments.models import Instrument
from shopflow.reports import stays as reading
from shopflow.reports.stays import Finish, Line, Stay
from shopflow.workshop.models import Passage

# A quarter of a year: long enough for a lead time, short enough to notice a change.
LONG_WEEKS = 13


@dataclass(frozen=True, slots=True)
class Span:
    """From one instant up to, but not including, another."""

    start: datetime
    end: datetime

    def holds(self, moment: datetime | None) -> bool:
        return moment is not None and self.start <= moment < self.end


def stays_since(since: datetime, *, until: datetime) -> list[Stay]:
    """Every stay of the instruments that passed the door since then or are in the house: one query.

    Nothing that was written at or after `until` counts, so a past week is seen as it stood when it ended.
    """
    passed = Passage.objects.filter(recorded_at__gte=since).values("instrument")
    lines = Passage.objects.filter(recorded_at__lt=until).order_by("pk")
    lines = lines.filter(Q(instrument__in=passed) | Q(instrument__left_on=None))
    rows = lines.values_list("instrument_id", "kind", "on", "recorded_at")
    return reading.read(Line(*row) for row in rows)


def gained(done: Iterable[Finish], week: Span) -> list[Finish]:
    """Finished in the week and still so when it ended."""
    return [one for one in done if week.holds(one.at) and not week.holds(one.reopened_at)]


def lost(done: Iterable[Finish], week: Span) -> list[Finish]:
    """Finished in an earlier week and opened again in this one."""
    return [one for one in done if week.holds(one.reopened_at) and not week.holds(one.at)]


def lead_times(done: Iterable[Finish], span: Span) -> dict[str, float | int | None]:
    """Days from arrival to finish of those that were finished in this span and stayed so."""
    days = [one.days for one in done if span.holds(one.at) and one.reopened_at is None]
    known = [one for one in days if one is not None]
    if not known:
        return {"n": 0, "median": None, "p80": None}
    median, p80 = flow.percentiles(known, [0.5, 0.8])
    return {"n": len(known), "median": round(median, 1), "p80": round(p80, 1)}


def littles_law(stays: Sequence[Stay], *, last: date, weeks: int = LONG_WEEKS) -> dict[str, float] | None:
    """Both sides of work in hand = throughput x lead time over the last weeks; None with too little to go by.

    In hand is from arrival to finish, or to the day it was carried out unfinished. The sides agree when the
    house neither fills nor empties.
    """
    arrivals = [stay.arrived_on for stay in stays if stay.arrived_on]
    first = max(last - timedelta(days=7 * weeks - 1), min(arrivals, default=last))
    days = (last - first).days + 1
    ended = [stay for stay in stays if stay.arrived_on and stay.ended_on and first <= stay.ended_on <= last]
    if days < 14 or not ended:
        return None
    times = [(stay.ended_on - stay.arrived_on).days / 7 for stay in ended]  # type: ignore[operator]
    throughput, lead = len(ended) / (days / 7), sum(times) / len(times)
    return {
        "weeks": round(days / 7, 1),
        "came": sum(first <= day <= last for day in arrivals),
        "went": len(ended),
        "in_hand": round(reading.days_in_hand(stays, first=first, days=days) / days, 1),
        "throughput": round(throughput, 2),
        "lead_weeks": round(lead, 1),
        "product": round(flow.littles_law(throughput=throughput, lead_time=lead), 1),
    }


def named(instrument_ids: Iterable[int]) -> dict[int, dict[str, str]]:
    """Number, title and route of these instruments, in one query."""
    found = Instrument.objects.filter(pk__in=set(instrument_ids)).select_related("route")
    found = found.only("number", "kind", "maker", "year_built", "route__code", "route__name")
    return {one.pk: {"number": one.number, "title": one.title, "route": _route(one)} for one in found}


def _route(instrument: Instrument) -> str:
    return f"{instrument.route.code} {instrument.route.name}" if instrument.route else ""
