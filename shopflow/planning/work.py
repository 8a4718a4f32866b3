"""The open tasks of a house as jobs: one for each stretch of hands-on work, with the rests between them."""

from __future__ import annotations

from collections.abc import Callable, Hashable, Sequence
from dataclasses import dataclass, field, replace
from datetime import date, time
from typing import TYPE_CHECKING

from shopflow.catalogue.models import Stage
from shopflow.compute.chances import Stop
from shopflow.compute.schedule import Job
from shopflow.workshop.models import Task

from .selectors.hands import OPENS

if TYPE_CHECKING:
    from .problem import House

HANDS_ON_KINDS = {Stage.Kind.BENCHED, Stage.Kind.PROVING}
# A task that only has to finish its rest still has to be signed: a moment, by no hands.
A_MOMENT = 0.01
CLOSES = time(17)

JobKey = tuple[int, int]


@dataclass(slots=True)
class Work:
    """The open tasks as jobs, and what is known of each job besides."""

    jobs: list[Job] = field(default_factory=list)
    spread: dict[Hashable, float] = field(default_factory=dict)
    rest_after: dict[JobKey, float] = field(default_factory=dict)
    hours: dict[JobKey, float] = field(default_factory=dict)
    rests: dict[Hashable, Sequence[float]] = field(default_factory=dict)
    stops: dict[Hashable, Stop] = field(default_factory=dict)
    unstopped: dict[JobKey, float] = field(default_factory=dict)

    def only(self, can_be_done: Callable[[Job], bool]) -> Work:
        """Without the instruments of which any job cannot be done."""
        out = {job.group for job in self.jobs if not can_be_done(job)}
        if not out:
            return self
        jobs = [job for job in self.jobs if job.group not in out]
        kept = {job.id for job in jobs}
        rests = {key: one for key, one in self.rests.items() if key in kept}
        stops = {key: one for key, one in self.stops.items() if key in kept}
        return replace(self, jobs=jobs, rests=rests, stops=stops)


def work_of(house: House, held: dict[int, date]) -> Work:
    firm, stopped = _held_until(house, held), _stopped_until(house)
    not_before = {pk: max(firm.get(pk, 0.0), stopped.get(pk, 0.0)) for pk in {*firm, *stopped}}
    parts = {task.pk: _parts(house, task, not_before.get(task.pk, 0.0)) for task in house.tasks}
    needed = {need for needs in house.needs.values() for need in needs}
    work = Work()
    for task in house.tasks:
        for place, part in enumerate(parts[task.pk]):
            key = (task.pk, place)
            last = place == len(parts[task.pk]) - 1
            work.jobs.append(_job(house, task, part, key, parts, is_end=last and task.pk not in needed))
            work.spread[key] = house.estimates[task.pk].spread if part.hands else 0.0
            work.rest_after[key] = part.rest_after
            work.hours[key] = part.hours * house.share if part.hands else 0.0
            if part.rest_after:
                work.rests[key] = house.rests.shares(task)
    for task in house.tasks:
        _let_wait(house, task, firm.get(task.pk, 0.0), work)
    return work


def _let_wait(house: House, task: Task, firm: float, work: Work) -> None:
    """Draw in each run how long a task waits that is stopped now, rests now, or may be stopped later on."""
    kind, key = house.stages[task.stage_id].kind, (task.pk, 0)
    still: list[Sequence[float]] = [one.hours for one in house.stops.now if one.task_id == task.pk]
    if kind == Stage.Kind.RESTING and not still:
        still = [house.rests.left(task, house.now)]
    if still and all(still):
        longest = max(still, key=sum)
        work.stops[key] = Stop(1.0, [max(0.0, hours - firm) for hours in longest])
        work.unstopped[key] = firm
    elif kind == Stage.Kind.RACKED and not still:
        work.stops[key] = Stop(house.stops.odds, house.stops.lengths)


@dataclass(frozen=True, slots=True)
class _Part:
    """One stretch of a task: paid hours of hands, then a rest by the clock."""

    hours: float
    hands: bool
    rest_after: float
    release: float
    under_way: bool
    holding: bool  # in a rest that is not over and keeps the parts


def _parts(house: House, task: Task, not_before: float) -> list[_Part]:
    """The stretches still ahead, from where the task stands; at least one, so that its end can be told."""
    kinds = [house.stages[pk].kind for pk in task.path]
    here = task.path.index(task.stage_id)
    each = house.estimates[task.pk].mean / house.share / max(1, sum(k in HANDS_ON_KINDS for k in kinds))
    stretches = _stretches(kinds[here:])
    if task.rest_hours and Stage.Kind.RESTING not in kinds:
        # A rest for which the department has no stage: what comes after still has to wait for it.
        stretches.append(0)
    rested = _rested(house, task) if kinds[here] == Stage.Kind.RESTING else 0.0
    release, rest = max(not_before, rested), float(task.rest_hours)
    under_way = kinds[here] in HANDS_ON_KINDS and not not_before
    parts = [
        _Part(
            hours=max(A_MOMENT, count * each) if count else A_MOMENT,
            hands=bool(count),
            rest_after=rest if place < len(stretches) - 1 else 0.0,
            release=release if place == 0 else 0.0,
            under_way=under_way and place == 0,
            holding=place == 0 and rested > 0 and house.parts.rest_keeps(task),
        )
        for place, count in enumerate(stretches)
    ]
    return parts


def _rested(house: House, task: Task) -> float:
    """When a rest that has begun is over, in clock hours from now."""
    ends = [(task.stage_since - house.now).total_seconds() / 3600 + float(task.rest_hours)]
    if task.earliest_touch:
        ends.append((task.earliest_touch - house.now).total_seconds() / 3600)
    return max(0.0, *ends)


def _stretches(kinds: Sequence[str]) -> list[int]:
    """How many hands-on stages lie in each stretch between rests, the present stage counted as still to do.

    >>> _stretches(["racked", "benched", "benched", "resting", "proving", "signed"])
    [2, 1]
    >>> _stretches(["resting", "signed"])
    [0]
    >>> _stretches(["racked", "benched", "resting", "signed"])
    [1, 0]
    """
    counts = [0]
    for place, kind in enumerate(kinds):
        if kind == Stage.Kind.RESTING and place:
            counts.append(0)
        elif kind in HANDS_ON_KINDS:
            counts[-1] += 1
    return counts


def _job(
    house: House,
    task: Task,
    part: _Part,
    key: JobKey,
    parts: dict[int, list[_Part]],
    *,
    is_end: bool,
) -> Job:
    place = key[1]
    needs = {}
    if part.hands:
        needs = {f"bench:{task.department_id}": 1}
        needs |= dict.fromkeys(house.things.get(task.operation_id or 0, []), 1)
    promised = task.instrument.promised_on
    return Job(
        key,
        part.hours,
        needs,
        after=_after(house, task, place, parts),
        release=part.release,
        due=house.clock(promised, CLOSES) if is_end and promised else None,
        weight=house.sizes.get(task.instrument.kind, 1.0),
        group=task.instrument_id,
        under_way=part.under_way,
        holds=_holds(house, task) if part.hands or part.holding else frozenset(),
        keeps_hold=part.rest_after if part.hands and house.parts.rest_keeps(task) else 0.0,
        holding=part.holding,
    )


def _holds(house: House, task: Task) -> frozenset[Hashable]:
    return frozenset((task.instrument_id, part) for part in house.parts.held_by(task))


def _after(house: House, task: Task, place: int, parts: dict[int, list[_Part]]) -> dict[Hashable, float]:
    if place:
        return {(task.pk, place - 1): parts[task.pk][place - 1].rest_after}
    if house.stages[task.stage_id].kind != Stage.Kind.RACKED:
        return {}
    return {(need, len(parts[need]) - 1): 0.0 for need in house.needs.get(task.pk, [])}


def _held_until(house: House, held: dict[int, date]) -> dict[int, float]:
    """The clock hour before which a task is not begun, because its instrument is held back."""
    return {
        task.pk: max(0.0, house.clock(held[task.instrument_id], OPENS))
        for task in house.tasks
        if task.instrument_id in held and house.stages[task.stage_id].kind == Stage.Kind.RACKED
    }


def _stopped_until(house: House) -> dict[int, float]:
    """The clock hour before which a task does not go on: until it is asked about, or a part is there."""
    found: dict[int, float] = {}
    for one in house.stops.now:
        found[one.task_id] = max(0.0, house.clock(one.day, OPENS), found.get(one.task_id, 0.0))
    return found
