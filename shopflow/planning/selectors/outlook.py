"""Will we make the year? From what is finished, the runs of the plan, and what will still be started."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date, datetime, time, timedelta
from typing import TYPE_CHECKING, Any
from zoneinfo import ZoneInfo

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


@dataclass(frozen=True, slots=True)
class YearSoFar:
    """What is known of the year besides the runs of a plan; read once for any number of plans."""

    year: int
    target: int
    now: datetime
    zone: ZoneInfo
    finished: int
    leads: list[float]
    starts: list[float] | float

    @property
    def ends(self) -> date:
        return year_days(self.year)[1]

    def by(self, last: date, runs: forecast.Forecast) -> forecast.YearOutlook:
        """What the year will have come to by the evening of a day."""
        evening = datetime.combine(last, time(23, 59), tzinfo=self.zone)
        until = max(0.0, (evening - self.now).total_seconds() / 3600)
        samples = {key: list(row) for key, row in runs.samples.items()}
        return forecast.year(
            self.finished, samples, self.starts, self.target, until=until, lead_samples=self.leads
        )

    def with_runs(self, runs: forecast.Forecast) -> dict[str, Any]:
        """The distribution of the year's count, with its odds."""
        outlook = self.by(self.ends, runs)
        return {
            "year": self.year,
            "target": self.target,
            "finished": self.finished,
            "odds": round(outlook.odds, 4),
            "mean": round(outlook.mean, 2),
            "p10": outlook.quantile(0.1),
            "p50": outlook.quantile(0.5),
            "p90": outlook.quantile(0.9),
        }


def year_so_far(now: datetime) -> YearSoFar | None:
    """The ISO year in which a moment lies; None where no target is set."""
    zone = the_shop().zone
    today = now.astimezone(zone).date()
    target = target_of(IsoWeek.of(today).year)
    if target is None:
        return None
    leads = start_to_finish_hours(today)
    return YearSoFar(
        year=target.year,
        target=target.instruments,
        now=now,
        zone=zone,
        finished=finished_between(year_days(target.year)[0], today),
        leads=leads,
        starts=_starts_to_come(leads),
    )


def outlook_of_year(asked: ShopProblem, runs: forecast.Forecast) -> dict[str, Any] | None:
    """The ISO year's count with its odds, week by week and by size; None where no target is set."""
    year = year_so_far(asked.begins_at)
    if year is None:
        return None
    today = asked.begins_at.astimezone(year.zone).date()
    weeks = IsoWeek.of(today).until(IsoWeek.of(year.ends))
    return year.with_runs(runs) | {
        "weeks": [_week_figures(one, year.by(one.sunday(), runs)) for one in weeks],
        "sized": _sized(asked, runs, year_days(year.year)[0], today, year.ends),
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


def _starts_to_come(leads: list[float]) -> list[float] | float:
    """Those in the house whose work is not laid out yet: begun one after the other at the shop's own pace."""
    waiting = Instrument.objects.in_the_house().filter(finished_on=None, tasks=None).count()
    if not waiting or not leads:
        return 0.0
    apart = LEAD_WEEKS_LOOKED_AT * 168.0 / len(leads)
    return [apart * (place + 1) for place in range(waiting)]
