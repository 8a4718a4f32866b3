"""What to start next, so that no bench runs dry and no more is opened than can be closed."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date, datetime, timedelta

from shopflow.catalogue.models import Department, Stage
from shopflow.compute.calendar import IsoWeek
from shopflow.instruments.models import Instrument
from shopflow.planning.models import Plan
from shopflow.planning.words import day
from shopflow.workshop.models import Task
from shopflow.workshop.selectors.standing import Standing, State
from shopflow.workshop.selectors.turn import why_now

from .load import THIN, LoadTable, load_table
from .outlook import finished_between
from .waits import OpenWork

LOOKED_BACK = timedelta(weeks=4)
NEVER = 99


@dataclass(frozen=True, slots=True)
class Dry:
    """A bench whose begun work fills less than half of its hours from a week on."""

    department: Department
    week: IsoWeek
    place: int


@dataclass(frozen=True, slots=True)
class Candidate:
    """An instrument that could be started, and why it stands where it stands on the list."""

    instrument: Instrument
    reasons: list[str]
    not_yet: str
    order: tuple[object, ...]


@dataclass(frozen=True, slots=True)
class ReleaseList:
    candidates: list[Candidate]
    without_work: list[Instrument]
    dry: list[Dry]
    begun: int
    finished_lately: int


def release_list(plan: Plan | None, *, now: datetime, today: date) -> ReleaseList:
    """Instruments not begun yet, those first whose work keeps the bench that runs dry soonest."""
    pianos = list(Instrument.objects.in_the_house().filter(finished_on=None).order_by("arrived_on", "number"))
    begun = _begun()
    tasks = Task.objects.open().before_leaving().filter(instrument__left_on=None)
    work = OpenWork.of(tasks, today)
    waiting = [one for one in pianos if one.pk in work.by_instrument and one.pk not in begun]
    dry = _dry(load_table(plan, now=now, without=[one.pk for one in waiting])) if plan else {}
    found = [_candidate(one, work, dry, today=today) for one in waiting]
    return ReleaseList(
        candidates=sorted(found, key=lambda one: one.order),
        without_work=[one for one in pianos if one.pk not in work.by_instrument and one.pk not in begun],
        dry=sorted(dry.values(), key=lambda one: one.place),
        begun=sum(one.pk in begun for one in pianos),
        finished_lately=finished_between(today - LOOKED_BACK, today),
    )


def _begun() -> set[int]:
    """Instruments of which something has left the rack."""
    moved = Task.objects.in_the_job().exclude(stage__kind=Stage.Kind.RACKED)
    return set(moved.filter(instrument__left_on=None).values_list("instrument_id", flat=True))


def _dry(table: LoadTable) -> dict[int, Dry]:
    """By department: the first week whose hours the begun work fills by less than half."""
    found = {}
    for row in table.rows:
        for place, cell in enumerate(row.cells):
            if cell.share is not None and cell.share < THIN:
                found[row.department.pk] = Dry(row.department, cell.week, place)
                break
    return found


def _candidate(piano: Instrument, work: OpenWork, dry: dict[int, Dry], *, today: date) -> Candidate:
    own = work.by_instrument[piano.pk]
    first = {one.department_id for one in own if one.state is State.READY}
    hours = _hours(own)
    fed = [dry[pk] for pk in hours if pk in dry]
    fed.sort(key=lambda one: (one.place, -hours[one.department.pk]))
    soonest = min((dry[pk].place for pk in first if pk in dry), default=NEVER)
    brought = sum(hours[one.department.pk] for one in fed if one.place == fed[0].place)
    promised, arrived = piano.promised_on or date.max, piano.arrived_on or date.max
    not_yet = _not_yet(piano, own, work)
    reasons = [_feeds(one, hours[one.department.pk], at_once=one.department.pk in first) for one in fed[:2]]
    return Candidate(
        piano,
        [*reasons, why_now(Task(instrument=piano), today=today)],
        not_yet,
        (bool(not_yet), soonest, promised, -brought, arrived, piano.pk),
    )


def _hours(own: Sequence[Standing]) -> dict[int, float]:
    hours: dict[int, float] = defaultdict(float)
    for one in own:
        hours[one.department_id] += float(one.hours)
    return dict(hours)


def _feeds(one: Dry, hours: float, *, at_once: bool) -> str:
    when = "its first work" if at_once else "later"
    return f"{one.department.name} runs thin from week {one.week.week}: it brings {hours:.0f} h there, {when}"


def _not_yet(piano: Instrument, own: Sequence[Standing], work: OpenWork) -> str:
    """Why it had better wait: held back, or something from outside is not there."""
    if piano.arrived_on is None:
        return "It is not in the house yet."
    if piano.pk in work.held:
        return f"Held back until {day(work.held[piano.pk])}."
    stopped = next((one for one in own if one.state is State.STOPPED), None)
    if stopped:
        return f"{stopped.name} is stopped: {stopped.stopped_by}."
    part = next((work.parts[one.task_id] for one in own if one.task_id in work.parts), None)
    return f"{part.what} is expected {day(part.expected_on)}." if part else ""
