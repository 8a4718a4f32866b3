"""A plan along the days: by instrument, and by bench."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from datetime import date, datetime, timedelta

from django.urls import reverse
from django.utils import timezone
from django.utils.safestring import SafeString

from shopflow.catalogue.models import Department
from shopflow.instruments.models import Instrument
from shopflow.planning import picture
from shopflow.planning.models import ClosedDay, Plan, PlanLine
from shopflow.planning.picture import Bar, Paper
from shopflow.planning.words import day

from .elsewhere import elsewhere
from .load import open_lines
from .year import weekdays_worked

# Work of one department that goes on within so long is one stretch: a weekend is no break.
TOGETHER = timedelta(days=3)
LONGEST_WEEKS, SHORTEST_WEEKS = 40, 6
BENCH_WEEKS = 4
DAY_OF_PIANO, DAY_OF_BENCH = 9.0, 44.0


@dataclass(frozen=True, slots=True)
class Stretch:
    """Work of one department on one instrument without a longer break."""

    department: Department
    starts: datetime
    ends: datetime
    rest_until: datetime | None
    hours: float
    tasks: tuple[str, ...]

    @property
    def over(self) -> datetime:
        return max(self.ends, self.rest_until or self.ends)

    @property
    def words(self) -> str:
        days = f"{_day(self.starts)} to {_day(self.ends)}"
        rest = f", rests until {_day(self.rest_until)}" if self.rest_until else ""
        return f"{self.department.name} {days}, {self.hours:.1f} h: {', '.join(self.tasks)}{rest}"


@dataclass(frozen=True, slots=True)
class PianoRow:
    instrument: Instrument
    stretches: list[Stretch]
    strip: SafeString

    @property
    def ends(self) -> datetime:
        return max(one.over for one in self.stretches)


@dataclass(frozen=True, slots=True)
class Timeline:
    rows: list[PianoRow]
    departments: list[Department]
    head: SafeString
    patterns: SafeString
    last: date
    beyond: int


def timeline(plan: Plan, *, now: datetime) -> Timeline:
    """A row for each instrument with planned work, in the order in which they are to be finished."""
    together = _by_instrument(plan)
    ends = [stretch.over for rows in together.values() for stretch in rows]
    promised = [piano.promised_on for piano in together if piano.promised_on]
    paper = _paper(now, max([*map(timezone.localdate, ends), *promised], default=None))
    rows = [_piano_row(paper, piano, rows, now) for piano, rows in together.items()]
    rows.sort(key=lambda row: (row.ends, row.instrument.number))
    benches = {one.department.pk: one.department for row in rows for one in row.stretches}
    return Timeline(
        rows=rows,
        departments=sorted(benches.values(), key=lambda one: (one.position, one.code)),
        head=picture.head(paper, now),
        patterns=picture.patterns([one.material for one in benches.values()]),
        last=paper.last,
        beyond=sum(timezone.localdate(row.ends) > paper.last for row in rows),
    )


def _by_instrument(plan: Plan) -> dict[Instrument, list[Stretch]]:
    lines: dict[Instrument, list[PlanLine]] = defaultdict(list)
    rows = open_lines(plan).select_related("task", "instrument", "department").order_by("starts_at", "pk")
    for line in rows:
        lines[line.instrument].append(line)
    return {piano: stretches(own) for piano, own in lines.items()}


def stretches(lines: Iterable[PlanLine]) -> list[Stretch]:
    """Lines of one instrument (in order of start) joined where a department goes on within three days."""
    runs: dict[int, list[list[PlanLine]]] = defaultdict(list)
    for line in lines:
        own = runs[line.department_id]
        if own and line.starts_at - max(_over(one) for one in own[-1]) <= TOGETHER:
            own[-1].append(line)
        else:
            own.append([line])
    joined = [_stretch(run) for own in runs.values() for run in own]
    return sorted(joined, key=lambda one: (one.starts, one.department.position))


def _over(line: PlanLine) -> datetime:
    return max(line.ends_at, line.rest_until or line.ends_at)


def _stretch(run: Sequence[PlanLine]) -> Stretch:
    ends = max(line.ends_at for line in run)
    rest = max((line.rest_until for line in run if line.rest_until), default=None)
    return Stretch(
        department=run[0].department,
        starts=min(line.starts_at for line in run),
        ends=ends,
        rest_until=rest if rest and rest > ends else None,
        hours=float(sum(line.hours for line in run)),
        tasks=tuple(dict.fromkeys(line.task.name for line in run)),
    )


def _piano_row(paper: Paper, piano: Instrument, rows: list[Stretch], now: datetime) -> PianoRow:
    bars = [
        Bar(
            starts=one.starts,
            ends=one.ends,
            material=one.department.material,
            mark=one.department.mark,
            words=one.words,
            rest_until=one.rest_until,
            url=reverse("planning:bench", args=[one.department.code]),
        )
        for one in rows
    ]
    said = f"{piano.number}: " + "; ".join(one.words for one in rows)
    if piano.promised_on:
        said += f"; promised for {day(piano.promised_on)}"
    return PianoRow(piano, rows, picture.strip(paper, bars, now=now, words=said, promised=piano.promised_on))


@dataclass(frozen=True, slots=True)
class BenchTimeline:
    """What a bench is to do; each strip is a pair of hands, whosoever they are."""

    strips: list[SafeString]
    head: SafeString
    patterns: SafeString
    lines: list[PlanLine]
    last: date
    later: int
    # By task: which of its parts is in other hands now, in words.
    elsewhere: dict[int, str]

    @property
    def rows(self) -> list[tuple[PlanLine, str]]:
        """Each line with what it waits for, said once for a task."""
        first = {line.task_id: line.pk for line in reversed(self.lines)}
        return [
            (line, self.elsewhere.get(line.task_id, "") if first[line.task_id] == line.pk else "")
            for line in self.lines
        ]


def bench_timeline(plan: Plan, department: Department, *, now: datetime) -> BenchTimeline:
    """The coming four weeks of one bench."""
    paper = _paper(now, None, weeks=BENCH_WEEKS, per_day=DAY_OF_BENCH)
    rows = open_lines(plan).filter(department=department)
    rows = rows.select_related("task__stage", "task__operation", "task__instrument", "instrument")
    lines = list(rows.order_by("starts_at", "pk"))
    shown = [line for line in lines if timezone.localdate(line.starts_at) <= paper.last]
    strips = [
        picture.strip(paper, track, now=now, words="; ".join(bar.words for bar in track))
        for track in picture.in_tracks(_bench_bar(department, line) for line in shown)
    ]
    return BenchTimeline(
        strips,
        picture.head(paper, now),
        picture.patterns([department.material]),
        shown,
        paper.last,
        len(lines) - len(shown),
        elsewhere(line.task for line in shown),
    )


def _bench_bar(department: Department, line: PlanLine) -> Bar:
    """Rests are left out: a resting piano takes nobody's hands."""
    number = line.instrument.number
    return Bar(
        starts=line.starts_at,
        ends=line.ends_at,
        material=department.material,
        mark=number,
        words=f"{number} {line.task.name}, {_when(line.starts_at)} to {_when(line.ends_at)}",
        url=reverse("workshop:task", args=[line.task_id]),
    )


def _paper(
    now: datetime, last: date | None, *, weeks: int = SHORTEST_WEEKS, per_day: float = DAY_OF_PIANO
) -> Paper:
    """From the Monday of this week to the week of the last day, within reason."""
    today = timezone.localdate(now)
    first = today - timedelta(days=today.weekday())
    if last is not None:
        weeks = min(LONGEST_WEEKS, max(weeks, (last - first).days // 7 + 1))
    days = weeks * 7
    worked = set(weekdays_worked())
    end = first + timedelta(days=days)
    closed = set(ClosedDay.objects.filter(day__range=(first, end)).values_list("day", flat=True))
    closed |= {
        one for one in (first + timedelta(days=place) for place in range(days)) if one.weekday() not in worked
    }
    return Paper(first, days, per_day, closed)


def _day(moment: datetime) -> str:
    return day(timezone.localdate(moment))


def _when(moment: datetime) -> str:
    here = timezone.localtime(moment)
    return f"{here:%a} {here.day} {here:%b} {here:%H:%M}"
