"""The shop as a problem for the planner: open tasks as jobs, departments and scarce things as what is shared.

A task is one job for each stretch of hands-on work on its path, with the rest between them as clock time.
What was already passed is not planned again; what has begun goes on first.
"""

from __future__ import annotations

from collections.abc import Hashable, Iterable, Mapping, Sequence
from dataclasses import dataclass, field, replace
from datetime import date, datetime, time, timedelta
from graphlib import CycleError, TopologicalSorter
from zoneinfo import ZoneInfo

from shopflow.catalogue.models import Operation, Stage
from shopflow.catalogue.selectors import stages_by_id, the_shop
from shopflow.compute.schedule import Job, Problem, ShopHours
from shopflow.workshop.models import Move, Snag, Task, TaskNeed

from .measures import HoldBack, LetGoOn, Measure
from .models import Hold, KindSize, PartOnOrder, ScarceThing
from .selectors.estimates import Spread, learned, spread_of
from .selectors.hands import OPENS, CrewBook, crew_book, hands_by_hour, spells

HANDS_ON_KINDS = {Stage.Kind.BENCHED, Stage.Kind.PROVING}
# A task that only has to finish its rest still has to be signed: a moment, by no hands.
A_MOMENT = 0.01
CLOSES = time(17)

JobKey = tuple[int, int]


class Unplannable(Exception):
    """There is no plan that keeps the rules; says why, and which promises that breaks."""


@dataclass(slots=True)
class ShopProblem:
    """A problem and what its jobs mean."""

    problem: Problem
    begins_at: datetime
    last_move: int
    tasks: dict[int, Task]
    spread: dict[JobKey, float]
    rest_after: dict[JobKey, float]
    hours: dict[JobKey, float]

    def moment(self, clock_hours: float) -> datetime:
        return self.begins_at + timedelta(hours=clock_hours)


@dataclass(slots=True)
class House:
    """All that is read from the database, once, for one plan or for many tries."""

    now: datetime
    zone: ZoneInfo
    share: float
    last_move: int
    tasks: list[Task]
    stages: dict[int, Stage]
    estimates: dict[int, Spread]
    book: CrewBook
    needs: dict[int, list[int]] = field(default_factory=dict)
    stopped: list[tuple[int, date]] = field(default_factory=list)
    held: dict[int, date] = field(default_factory=dict)
    things: dict[int, list[str]] = field(default_factory=dict)
    there: dict[str, int] = field(default_factory=dict)
    sizes: dict[str, float] = field(default_factory=dict)
    _worked_out: tuple[dict[int, date], Work] | None = None

    def clock(self, day: date, at: time) -> float:
        moment = datetime.combine(day, at, tzinfo=self.zone)
        return (moment - self.now).total_seconds() / 3600

    def problem(self, measures: Sequence[Measure] = ()) -> ShopProblem:
        """The problem of this house, with measures that are only tried on paper."""
        book = replace(self.book, measures=measures)
        hands = hands_by_hour(book, now=self.now, zone=self.zone)
        _refuse_benches_without_hands(self.tasks, hands)
        resources: dict[str, int | list[tuple[float, int]]] = {
            f"bench:{pk}": steps for pk, steps in hands.items()
        }
        work = self._work(_held(self, measures))
        open_hours = ShopHours(spells(book, now=self.now, zone=self.zone))
        problem = Problem(work.jobs, {**resources, **self.there}, shop_hours=open_hours)
        tasks = {task.pk: task for task in self.tasks}
        return ShopProblem(problem, self.now, self.last_move, tasks, work.spread, work.rest_after, work.hours)

    def _work(self, held: dict[int, date]) -> Work:
        """The jobs; the same again while the same instruments are held back."""
        if self._worked_out is None or self._worked_out[0] != held:
            self._worked_out = held, _jobs(self, _not_before(self, held))
        return self._worked_out[1]


@dataclass(slots=True)
class Work:
    """The open tasks as jobs, and what is known of each job besides."""

    jobs: list[Job] = field(default_factory=list)
    spread: dict[JobKey, float] = field(default_factory=dict)
    rest_after: dict[JobKey, float] = field(default_factory=dict)
    hours: dict[JobKey, float] = field(default_factory=dict)


def shop_problem(now: datetime, measures: Sequence[Measure] = ()) -> ShopProblem:
    """The whole house from this moment on, with measures that are only tried on paper."""
    return read_house(now).problem(measures)


def read_house(now: datetime) -> House:
    """Read everything once, so that many measures can be tried on it."""
    shop = the_shop()
    last_move = Move.objects.order_by("-pk").values_list("pk", flat=True).first() or 0
    tasks = list(
        Task.objects.open()
        .before_leaving()
        .filter(instrument__left_on=None)
        .select_related("instrument", "department", "operation")
        .order_by("instrument", "position", "pk")
    )
    ids = {task.pk for task in tasks}
    estimates = learned(Operation.objects.filter(pk__in={t.operation_id for t in tasks if t.operation_id}))
    house = House(
        now=now,
        zone=shop.zone,
        share=float(shop.hands_on_share),
        last_move=last_move,
        tasks=tasks,
        stages=stages_by_id(),
        estimates={task.pk: spread_of(task, estimates) for task in tasks},
        book=crew_book(first=now.astimezone(shop.zone).date()),
    )
    for task_id, needs_id in TaskNeed.objects.filter(task__in=ids, needs__in=ids).values_list(
        "task_id", "needs_id"
    ):
        house.needs.setdefault(task_id, []).append(needs_id)
    for thing in ScarceThing.objects.prefetch_related("operations"):
        house.there[f"thing:{thing.pk}"] = thing.count
        for operation in thing.operations.all():
            house.things.setdefault(operation.pk, []).append(f"thing:{thing.pk}")
    house.sizes = {row.kind: float(row.size) for row in KindSize.objects.all()}
    house.held = dict(Hold.objects.values_list("instrument_id", "until"))
    house.stopped = _stopped(now.astimezone(shop.zone).date())
    _refuse_circles(house)
    return house


def _stopped(today: date) -> list[tuple[int, date]]:
    """Tasks that wait for a day: snags until they are asked about again, parts until they are expected."""
    snags = Snag.objects.open().values_list("task_id", "ask_again_on")
    parts = PartOnOrder.objects.filter(arrived_on=None).values_list("task_id", "expected_on")
    return [(task_id, max(day, today + timedelta(days=1))) for task_id, day in [*snags, *parts]]


def _held(house: House, measures: Sequence[Measure]) -> dict[int, date]:
    """Until when instruments are held back, with the measures that are tried."""
    held = dict(house.held)
    for one in measures:
        if isinstance(one, HoldBack):
            held[one.instrument] = one.until
        elif isinstance(one, LetGoOn):
            held.pop(one.instrument, None)
    return held


def _not_before(house: House, held: dict[int, date]) -> dict[int, float]:
    """The clock hour before which a task is not begun, of those that have to wait."""
    racked = [task for task in house.tasks if house.stages[task.stage_id].kind == Stage.Kind.RACKED]
    days = [*house.stopped]
    days += [(task.pk, held[task.instrument_id]) for task in racked if task.instrument_id in held]
    found: dict[int, float] = {}
    for task_id, day in days:
        found[task_id] = max(0.0, house.clock(day, OPENS), found.get(task_id, 0.0))
    return found


def _refuse_circles(house: House) -> None:
    """Tasks that wait for each other are named before the planner, which knows only numbers, meets them."""
    racked = {task.pk for task in house.tasks if house.stages[task.stage_id].kind == Stage.Kind.RACKED}
    waits = {task: needs for task, needs in house.needs.items() if task in racked}
    try:
        TopologicalSorter(waits).prepare()
    except CycleError as circle:
        names = {task.pk: str(task) for task in house.tasks}
        told = " waits for ".join(f"“{names[pk]}”" for pk in reversed(circle.args[1]))
        raise Unplannable(f"Some tasks wait for each other: {told}.") from circle


def _refuse_benches_without_hands(tasks: Iterable[Task], hands: Mapping[int, object]) -> None:
    empty: dict[str, set[str]] = {}
    for task in tasks:
        if task.department_id not in hands:
            empty.setdefault(task.department.name, set()).add(_promise_words(task))
    if empty:
        raise Unplannable(
            " ".join(
                f"{name} has no hands in the coming weeks, and this needs it: {', '.join(sorted(who)[:8])}."
                for name, who in sorted(empty.items())
            )
        )


def _promise_words(task: Task) -> str:
    piano = task.instrument
    return f"{piano.number} (promised {piano.promised_on:%d %b})" if piano.promised_on else piano.number


def _jobs(house: House, not_before: dict[int, float]) -> Work:
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
    return work


@dataclass(frozen=True, slots=True)
class _Part:
    """One stretch of a task: paid hours of hands, then a rest by the clock."""

    hours: float
    hands: bool
    rest_after: float
    release: float
    under_way: bool


def _parts(house: House, task: Task, not_before: float) -> list[_Part]:
    """The stretches still ahead, from where the task stands; at least one, so that its end can be told."""
    kinds = [house.stages[pk].kind for pk in task.path]
    here = task.path.index(task.stage_id)
    each = house.estimates[task.pk].mean / house.share / max(1, sum(k in HANDS_ON_KINDS for k in kinds))
    stretches = _stretches(kinds[here:])
    if task.rest_hours and Stage.Kind.RESTING not in kinds:
        # A rest for which the department has no stage: what comes after still has to wait for it.
        stretches.append(0)
    resting = kinds[here] == Stage.Kind.RESTING
    release = not_before
    rest = float(task.rest_hours)
    if resting:
        until = (task.stage_since - house.now).total_seconds() / 3600 + rest
        release = max(release, until)
    under_way = kinds[here] in HANDS_ON_KINDS and not not_before
    parts = [
        _Part(
            hours=max(A_MOMENT, count * each) if count else A_MOMENT,
            hands=bool(count),
            rest_after=rest if place < len(stretches) - 1 else 0.0,
            release=release if place == 0 else 0.0,
            under_way=under_way and place == 0,
        )
        for place, count in enumerate(stretches)
    ]
    return parts


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
    )


def _after(house: House, task: Task, place: int, parts: dict[int, list[_Part]]) -> dict[Hashable, float]:
    if place:
        return {(task.pk, place - 1): parts[task.pk][place - 1].rest_after}
    if house.stages[task.stage_id].kind != Stage.Kind.RACKED:
        return {}
    return {(need, len(parts[need]) - 1): 0.0 for need in house.needs.get(task.pk, [])}
