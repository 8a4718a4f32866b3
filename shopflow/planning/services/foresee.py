"""How long a piece of work would take that is not laid out yet, by the house as it is today.

It is laid out on paper as one more instrument among the rest, and the shop is run many times with it. Nothing
is written.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from copy import copy
from dataclasses import dataclass, field, replace
from datetime import date, datetime, timedelta

from shopflow.catalogue.models import Operation
from shopflow.compute import network
from shopflow.compute.errors import ComputeError
from shopflow.instruments.models import Instrument
from shopflow.planning.on_paper import PaperWork
from shopflow.planning.problem import House, Unplannable, read_house
from shopflow.planning.running import run_forecast
from shopflow.planning.selectors.estimates import Spread, spread_of
from shopflow.planning.words import dated, day_by
from shopflow.workshop.models import Task
from shopflow.workshop.services import layout

RUNS = 400
EARLY, LIKELY, LATE = 0.2, 0.5, 0.8
# Work that nobody is promised waits behind all that is. So it is promised for the day by which four of five
# runs are done, as a shop would, and asked again; the first guess is this.
FIRST_PROMISE_WEEKS = 12


@dataclass(frozen=True, slots=True)
class NewWork:
    """Operations on an instrument of a kind; on one that is in the house, beside the work it has already.

    `hours` are hands-on hours by operation where they are known better than by the catalogue and the ledger.
    """

    kind: str
    operations: Sequence[Operation]
    hours: Mapping[int, float] = field(default_factory=dict)
    not_before: date | None = None
    on: Instrument | None = None


@dataclass(frozen=True, slots=True)
class Foreseen:
    """When it would be finished: early, likely and late (one, half and four of five runs), or why not."""

    p20: date | None = None
    p50: date | None = None
    p80: date | None = None
    weeks: tuple[float, float, float] | None = None
    words: str = ""


def foresee(works: Sequence[NewWork], *, now: datetime, seed: int = 0, runs: int = RUNS) -> list[Foreseen]:
    """Each work for itself, as if it alone came in addition."""
    try:
        house = read_house(now)
    except Unplannable as why:
        return [Foreseen(words=str(why)) for _ in works]
    return [_foreseen(house, work, seed, runs) for work in works]


def _foreseen(house: House, work: NewWork, seed: int, runs: int) -> Foreseen:
    promised = (house.now + timedelta(weeks=FIRST_PROMISE_WEEKS)).date()
    try:
        ends = _ends(house, work, promised, seed, runs)
        if ends is None:
            return Foreseen(words="Nothing is left to do.")
        ends = _ends(house, work, (house.now + timedelta(hours=ends[2])).date(), seed, runs) or ends
    except (Unplannable, ComputeError) as why:
        return Foreseen(words=str(why))
    p20, p50, p80 = (day_by(house.now + timedelta(hours=end)) for end in ends)
    weeks = [round(max(0.0, end) / 168, 1) for end in ends]
    return Foreseen(p20, p50, p80, weeks=(weeks[0], weeks[1], weeks[2]), words=_basis(house))


def _ends(
    house: House, work: NewWork, promised: date, seed: int, runs: int
) -> tuple[float, float, float] | None:
    """Clock hours to the early, the likely and the late finish; None where there is nothing to do."""
    if work.on is not None:
        house = _promised(house, work.on, promised)
    paper = PaperWork()
    number = _lay_out(paper, house, work, promised)
    asked = house.with_work(paper).problem()
    told = run_forecast(asked, runs=runs, seed=seed, quantiles=(EARLY, LIKELY, LATE)).groups.get(number)
    return (told[EARLY], told[LIKELY], told[LATE]) if told else None


def _lay_out(paper: PaperWork, house: House, work: NewWork, promised: date) -> int:
    """One more instrument, or more work on one; tells its number."""
    there = [task for task in house.tasks if work.on and task.instrument_id == work.on.pk]
    if there:
        return _lay_beside(paper, house, work, there)
    piano = work.on or Instrument(kind=work.kind, number="on paper")
    tasks, ties = _sketch(piano, work.operations)
    today = house.now.astimezone(house.zone).date()
    return paper.add(
        piano,
        tasks,
        ties=ties,
        estimates=_estimates(house, work, tasks),
        begins=max(today, work.not_before or today),
        promised_on=promised,
        now=house.now,
    )


def _promised(house: House, piano: Instrument, on: date) -> House:
    """The house in which an instrument that nobody was promised yet is promised for a day."""
    tasks = []
    for task in house.tasks:
        if task.instrument_id == piano.pk and task.instrument.promised_on is None:
            task = copy(task)
            task.instrument = copy(task.instrument)
            task.instrument.promised_on = on
        tasks.append(task)
    return replace(house, tasks=tasks)


def _lay_beside(paper: PaperWork, house: House, work: NewWork, there: Sequence[Task]) -> int:
    """Beside the open work of an instrument: tied to it as the catalogue says, none of it doubled."""
    piano = there[0].instrument
    open_now = {task.operation_id: task for task in there if task.operation}
    all_tasks, ties = _sketch(
        piano, [*work.operations, *(one.operation for one in open_now.values() if one.operation)]
    )
    fresh = [task for task in all_tasks if task.operation_id not in open_now]
    numbers = paper.lay(piano, fresh, ties=(), estimates=_estimates(house, work, fresh), now=house.now)
    pk_of = {operation: task.pk for operation, task in open_now.items()}
    pk_of |= {task.operation_id: number for task, number in zip(fresh, numbers, strict=True)}
    names = [pk_of[task.operation_id] for task in all_tasks]
    paper.needs |= _needs_with(house, there, [(names[a], names[b]) for a, b in ties])
    return piano.pk


def _sketch(piano: Instrument, operations: Sequence[Operation]) -> tuple[list[Task], list[tuple[int, int]]]:
    """The tasks of the house, none at the owner's; ties by their places."""
    tasks, ties = layout.sketch(instrument=piano, operations=operations)
    tasks = [task for task in tasks if not task.at_the_owners]
    place = {task.operation_id: number for number, task in enumerate(tasks)}
    return tasks, [(place[a], place[b]) for a, b in ties if a in place and b in place]


def _needs_with(
    house: House, there: Sequence[Task], wished: Sequence[tuple[int, int]]
) -> dict[int, list[int]]:
    """What the tasks of one instrument need with ties on paper; one that would close a circle is left out."""
    needs = {task.pk: list(house.needs.get(task.pk, ())) for task in there}
    ties = [(earlier, later) for later, row in needs.items() for earlier in row]
    for earlier, later in wished:
        is_new = (earlier < 0 or later < 0) and earlier not in needs.get(later, ())
        if is_new and _flows([*ties, (earlier, later)]):
            ties.append((earlier, later))
            needs.setdefault(later, []).append(earlier)
    return needs


def _flows(ties: Sequence[tuple[int, int]]) -> bool:
    try:
        network.order(ties)
    except ComputeError:
        return False
    return True


def _estimates(house: House, work: NewWork, tasks: Sequence[Task]) -> list[Spread]:
    found = [spread_of(task, house.learned) for task in tasks]
    return [
        replace(one, mean=work.hours.get(task.operation_id or 0, one.mean))
        for task, one in zip(tasks, found, strict=True)
    ]


def _basis(house: House) -> str:
    """What the figures rest on, in words."""
    pianos = len({task.instrument_id for task in house.tasks})
    besides = house.coming.per_week
    day = dated(house.now.astimezone(house.zone).date())
    words = f"by the house of {day}: {pianos} instruments with open work"
    return words + (f", and {besides:.1f} a week begun meanwhile" if besides else "")
