"""Will we make the year? From what is finished, the runs of the plan, and what will still be started."""

from __future__ import annotations

from datetime import date, datetime, time, timedelta
from typing import TYPE_CHECKING, Any

from shopflow.catalogue.selectors import the_shop
from shopflow.compute import forecast
from shopflow.compute.calendar import IsoWeek
from shopflow.instruments.models import Instrument
from shopflow.planning.models import KindSize
from shopflow.workshop.models import Passage, Task

from .year import target_of

if TYPE_CHECKING:
    from shopflow.planning.problem import ShopProblem

LEAD_WEEKS_LOOKED_AT = 52


def outlook_of_year(asked: ShopProblem, runs: forecast.Forecast) -> dict[str, Any] | None:
    """The distribution of the ISO year's count with its odds; None where no target is set."""
    zone = the_shop().zone
    today = asked.begins_at.astimezone(zone).date()
    week = IsoWeek.of(today)
    target = target_of(week.year)
    if target is None:
        return None
    begins, ends = year_days(week.year)
    finished = finished_between(begins, today)
    leads = start_to_finish_hours(today)
    samples = {key: list(row) for key, row in runs.samples.items()}
    starts = _starts_to_come(asked, leads)

    def by(last: date) -> forecast.YearOutlook:
        evening = datetime.combine(last, time(23, 59), tzinfo=zone)
        until = max(0.0, (evening - asked.begins_at).total_seconds() / 3600)
        return forecast.year(finished, samples, starts, target.instruments, until=until, lead_samples=leads)

    outlook = by(ends)
    return {
        "year": week.year,
        "target": target.instruments,
        "finished": finished,
        "odds": round(outlook.odds, 4),
        "mean": round(outlook.mean, 2),
        "p10": outlook.quantile(0.1),
        "p50": outlook.quantile(0.5),
        "p90": outlook.quantile(0.9),
        "weeks": [_week_figures(one, by(one.sunday())) for one in week.until(IsoWeek.of(ends))],
        "sized": _sized(asked, runs, begins, today, ends),
    }


def _week_figures(week: IsoWeek, outlook: forecast.YearOutlook) -> dict[str, Any]:
    """What the year will have come to by the end of a week: the fan, week by week."""
    shares = {name: outlook.quantile(share) for name, share in (("p10", 0.1), ("p50", 0.5), ("p90", 0.9))}
    return {"week": str(week), **shares}


def _sized(
    asked: ShopProblem, runs: forecast.Forecast, begins: date, today: date, ends: date
) -> dict[str, float] | None:
    """Finished and expected by the sizes of their kinds; None where every kind counts 1."""
    sizes = {row.kind: float(row.size) for row in KindSize.objects.all()}
    if all(size == 1 for size in sizes.values()):
        return None
    kinds = {task.instrument_id: task.instrument.kind for task in asked.tasks.values()}
    hours = (datetime.combine(ends, time(23, 59), tzinfo=the_shop().zone) - asked.begins_at).total_seconds()
    floor = sum(
        sizes.get(kinds[key], 1.0) * sum(finish <= hours / 3600 for finish in row) / len(row)
        for key, row in ((key, list(row)) for key, row in runs.samples.items())
        if key in kinds and row
    )
    counts = {Passage.Kind.FINISHED: 1, Passage.Kind.REOPENED: -1}
    lines = Passage.objects.filter(on__range=(begins, today), kind__in=counts)
    done = sum(
        counts[Passage.Kind(kind)] * sizes.get(piano, 1.0)
        for kind, piano in lines.values_list("kind", "instrument__kind")
    )
    return {"finished": round(done, 2), "floor": round(floor, 2)}


def year_days(year: int) -> tuple[date, date]:
    """First and last day of an ISO year."""
    return IsoWeek(year, 1).monday(), IsoWeek(year + 1, 1).monday() - timedelta(days=1)


def finished_between(first: date, last: date) -> int:
    """Instruments finished in these days, less those opened again, both by the ledger."""
    kinds = dict.fromkeys((Passage.Kind.FINISHED,), 1) | {Passage.Kind.REOPENED: -1}
    lines = Passage.objects.filter(on__range=(first, last), kind__in=kinds).values_list("kind", flat=True)
    return max(0, sum(kinds[Passage.Kind(kind)] for kind in lines))


def start_to_finish_hours(today: date) -> list[float]:
    """Clock hours from the laying out of an instrument's work to its finish, of the last year's finished."""
    since = today - timedelta(weeks=LEAD_WEEKS_LOOKED_AT)
    finished = dict(Instrument.objects.filter(finished_on__gte=since).values_list("pk", "finished_on"))
    first_laid_out: dict[int, date] = {}
    rows = Task.objects.filter(instrument__in=finished).order_by("-created_at")
    for pk, created in rows.values_list("instrument_id", "created_at"):
        first_laid_out[pk] = created.date()
    ends = ((finished[pk], day) for pk, day in first_laid_out.items())
    return [max(1.0, (end - day).days * 24.0) for end, day in ends if end]


def _starts_to_come(asked: ShopProblem, leads: list[float]) -> list[float] | float:
    """Those in the house whose work is not laid out yet: begun one after the other at the shop's own pace."""
    waiting = Instrument.objects.in_the_house().filter(finished_on=None, tasks=None).count()
    if not waiting or not leads:
        return 0.0
    apart = LEAD_WEEKS_LOOKED_AT * 168.0 / len(leads)
    return [apart * (place + 1) for place in range(waiting)]
