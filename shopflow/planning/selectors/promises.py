"""When each instrument will be finished, how surely, against what was promised."""

from __future__ import annotations

from collections import defaultdict
from dataclasses import dataclass
from datetime import date, timedelta

from django.utils import timezone

from shopflow.common import charts
from shopflow.common.odds import odds_in_words
from shopflow.compute.calendar import IsoWeek
from shopflow.instruments.models import Instrument
from shopflow.planning.models import ClosedDay, InstrumentOutlook, Plan
from shopflow.planning.words import day, day_by
from shopflow.workshop.models import PromiseMade, Task

from .waits import OpenWork, Waits
from .year import weekdays_worked

# More rows than this are no picture any more; the table has them all.
DRAWN = 24


@dataclass(frozen=True, slots=True)
class PromiseRow:
    """One instrument with open work. Days are those by whose closing hour it is finished."""

    instrument: Instrument
    outlook: InstrumentOutlook | None
    waits: Waits
    slips: int

    @property
    def promised(self) -> date | None:
        return self.instrument.promised_on

    @property
    def p10(self) -> date | None:
        return day_by(self.outlook.p10) if self.outlook else None

    @property
    def p50(self) -> date | None:
        return day_by(self.outlook.p50) if self.outlook else None

    @property
    def p80(self) -> date | None:
        return day_by(self.outlook.p80) if self.outlook else None

    @property
    def slack(self) -> int | None:
        """Days from the day by which four of five runs are done to the promised day; below 0 is short."""
        return (self.promised - self.p80).days if self.promised and self.p80 else None

    @property
    def odds(self) -> float | None:
        return self.outlook.odds if self.outlook and self.promised else None

    @property
    def odds_words(self) -> str:
        return odds_in_words(self.odds) if self.odds is not None else ""

    @property
    def percent(self) -> int | None:
        return None if self.odds is None else round(100 * self.odds)

    @property
    def slipped_twice(self) -> bool:
        return self.slips > 1

    @property
    def call_today(self) -> bool:
        """Slipped twice and again more likely broken than kept."""
        return self.slipped_twice and self.odds is not None and self.odds < 0.5


def promises(plan: Plan | None, *, today: date) -> list[PromiseRow]:
    """Every instrument in the house with open work, the least sure promise first. Nine queries."""
    tasks = Task.objects.open().before_leaving().filter(instrument__left_on=None)
    work = OpenWork.of(tasks, today)
    outlooks = {row.instrument_id: row for row in InstrumentOutlook.objects.filter(plan=plan)} if plan else {}
    slipped = slips()
    rows = [
        PromiseRow(one, outlooks.get(one.pk), work.waits(one.pk), slipped.get(one.pk, 0))
        for one in Instrument.objects.in_the_house().filter(pk__in=work.by_instrument)
    ]
    return sorted(rows, key=_worst_first)


def _worst_first(row: PromiseRow) -> tuple[int, float, float, str]:
    if row.odds is not None and row.slack is not None:
        return (0, row.odds, row.slack, row.instrument.number)
    if row.promised:
        return (1, row.promised.toordinal(), 0, row.instrument.number)
    return (2, row.p80.toordinal() if row.p80 else 1e9, 0, row.instrument.number)


def slips() -> dict[int, int]:
    """How often each instrument's promise moved to a later day, by the record of promises. One query."""
    found: dict[int, int] = defaultdict(int)
    before: dict[int, date | None] = {}
    rows = PromiseMade.objects.filter(instrument__left_on=None).order_by("pk")
    for instrument, on, instead_of in rows.values_list("instrument_id", "on", "instead_of"):
        stood = instead_of or before.get(instrument)
        if on and stood and on > stood:
            found[instrument] += 1
        before[instrument] = on or stood
    return dict(found)


def promise_chart(rows: list[PromiseRow], *, today: date) -> charts.Chart | None:
    """Early, likely and late against the promise, for the least sure ones."""
    drawn = [row for row in rows if row.outlook and row.promised][:DRAWN]
    if not drawn:
        return None
    spans = [_span(row, row.outlook, row.promised, today) for row in drawn if row.outlook and row.promised]
    kept = sum((row.odds or 0) >= 0.5 for row in rows if row.odds is not None)
    asked = sum(row.odds is not None for row in rows)
    return charts.spans(
        title="Likely finish against the promised day",
        description=f"{kept} of {asked} promises are more likely kept than broken. Bar: 8 of 10 runs; "
        f"dot: half of them are done; flag: promised; broken line: today."
        + (f" The {len(drawn)} least sure." if len(drawn) < asked else ""),
        rows=spans,
        axis=lambda number: day(today + timedelta(days=round(number))),
        now=0,
    )


def _span(row: PromiseRow, outlook: InstrumentOutlook, promised: date, today: date) -> charts.Span:
    early, likely, late = (
        (timezone.localdate(at) - today).days for at in (outlook.p10, outlook.p50, outlook.p90)
    )
    return charts.Span(row.instrument.number, early, likely, late, (promised - today).days)


@dataclass(frozen=True, slots=True)
class Advice:
    """What can be promised of an instrument by the plan."""

    instrument: Instrument
    plan: Plan
    outlook: InstrumentOutlook | None
    on: date | None
    half: date | None

    @property
    def week(self) -> IsoWeek | None:
        return IsoWeek.of(self.on) if self.on else None


def advice(plan: Plan, instrument: Instrument) -> Advice:
    """The first open day by which four of five runs are done: quote from likely, promise from P80."""
    outlook = InstrumentOutlook.objects.filter(plan=plan, instrument=instrument).first()
    if outlook is None:
        return Advice(instrument, plan, None, None, None)
    return Advice(instrument, plan, outlook, _open_day(day_by(outlook.p80)), day_by(outlook.p50))


def _open_day(first: date) -> date:
    """This day, or the next on which somebody works."""
    worked = set(weekdays_worked())
    closed = set(
        ClosedDay.objects.filter(day__range=(first, first + timedelta(days=60))).values_list("day", flat=True)
    )
    days = (first + timedelta(days=number) for number in range(60))
    return next((one for one in days if one.weekday() in worked and one not in closed), first)
