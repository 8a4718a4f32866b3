"""The shop as a problem for the planner: open tasks as jobs, departments and scarce things as what is shared.

A task is one job for each stretch of hands-on work on its path, with the rest between them as clock time. It
holds its parts of the piano meanwhile, and over the rest as well where that keeps them.
What was already passed is not planned again; what has begun goes on first.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, field, replace
from datetime import date, datetime, time, timedelta
from graphlib import CycleError, TopologicalSorter
from zoneinfo import ZoneInfo

from django.db.models import QuerySet

from shopflow.catalogue.models import Operation, Stage
from shopflow.catalogue.selectors import stages_by_id, the_shop
from shopflow.compute.alike import PRIOR_SHARE
from shopflow.compute.chances import Chances
from shopflow.compute.hours import HoursEstimate
from shopflow.compute.schedule import Job, Problem, ShopHours
from shopflow.workshop.models import Move, Task, TaskNeed

from .measures import HoldBack, LetGoOn, Measure
from .models import Hold, KindSize, ScarceThing
from .on_paper import PaperWork
from .parts import Parts
from .selectors.estimates import Spread, learned, likeness, spread_of
from .selectors.hands import CrewBook, crew_book, hands_by_hour, spells
from .selectors.meanwhile import begun_meanwhile
from .selectors.rests import Rests, rests
from .selectors.stops import Stops, stops
from .work import JobKey, Work, work_of


class Unplannable(Exception):
    """There is no plan that keeps the rules; says why, and which promises that breaks."""


@dataclass(slots=True)
class ShopProblem:
    """A problem and what its jobs mean."""

    problem: Problem
    begins_at: datetime
    last_move: int
    tasks: dict[int, Task]
    rest_after: dict[JobKey, float]
    hours: dict[JobKey, float]
    chances: Chances
    # What will be begun meanwhile: it takes hands, but nobody asks when it is finished.
    meanwhile: list[Job]
    begun_a_week: float
    # Of jobs whose wait is drawn in each run: when they could go on if nothing held them up.
    unstopped: dict[JobKey, float]

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
    learned: dict[tuple[int, str], HoursEstimate]
    book: CrewBook
    needs: dict[int, list[int]] = field(default_factory=dict)
    stops: Stops = field(default_factory=Stops)
    rests: Rests = field(default_factory=Rests)
    likeness: float = PRIOR_SHARE
    coming: PaperWork = field(default_factory=PaperWork)
    held: dict[int, date] = field(default_factory=dict)
    things: dict[int, list[str]] = field(default_factory=dict)
    there: dict[str, int] = field(default_factory=dict)
    sizes: dict[str, float] = field(default_factory=dict)
    parts: Parts = field(default_factory=Parts)
    _worked_out: tuple[dict[int, date], Work] | None = None
    _worked_out_beside: Work | None = None

    def with_work(self, paper: PaperWork) -> House:
        """The same house with work in it that is laid out on paper only."""
        return replace(
            self,
            tasks=[*self.tasks, *paper.tasks],
            needs={**self.needs, **paper.needs},
            estimates={**self.estimates, **paper.estimates},
            held={**self.held, **paper.begins},
            _worked_out=None,
        )

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
        return ShopProblem(
            problem,
            self.now,
            self.last_move,
            tasks,
            work.rest_after,
            work.hours,
            chances=_chances(self, work, beside := self._beside({**resources, **self.there})),
            meanwhile=beside.jobs,
            begun_a_week=self.coming.per_week if beside.jobs else 0.0,
            unstopped=work.unstopped,
        )

    def _work(self, held: dict[int, date]) -> Work:
        """The jobs; the same again while the same instruments are held back."""
        if self._worked_out is None or self._worked_out[0] != held:
            self._worked_out = held, work_of(self, held)
        return self._worked_out[1]

    def _beside(self, there: Mapping[str, object]) -> Work:
        """What will be begun meanwhile, as far as there are hands for it."""
        if self._worked_out_beside is None:
            alone = replace(
                self, tasks=[], needs={}, estimates={}, held={}, stops=replace(self.stops, now=())
            )
            self._worked_out_beside = work_of(alone.with_work(self.coming), self.coming.begins)
        return self._worked_out_beside.only(lambda job: all(name in there for name in job.needs))


def _chances(house: House, work: Work, beside: Work) -> Chances:
    return Chances(
        work.spread | beside.spread, house.likeness, work.rests | beside.rests, work.stops | beside.stops
    )


def shop_problem(now: datetime, measures: Sequence[Measure] = ()) -> ShopProblem:
    """The whole house from this moment on, with measures that are only tried on paper."""
    return read_house(now).problem(measures)


def read_house(now: datetime) -> House:
    """Read everything once, so that many measures can be tried on it."""
    tasks = Task.objects.open().before_leaving().filter(instrument__left_on=None)
    return house_of(in_order(tasks), now=now)


def in_order(tasks: QuerySet[Task]) -> list[Task]:
    """Tasks as the planner wants them, with all that it asks of each."""
    return list(
        tasks.select_related("instrument", "department", "operation__rest").order_by(
            "instrument", "position", "pk"
        )
    )


def house_of(tasks: list[Task], *, now: datetime) -> House:
    """A house with this work ahead of it; what was learned and stopped is as the clock knows it."""
    shop = the_shop()
    last_move = Move.objects.order_by("-pk").values_list("pk", flat=True).first() or 0
    ids = {task.pk for task in tasks}
    estimates = learned(Operation.objects.all())
    house = House(
        learned=estimates,
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
    house.parts = Parts.read()
    house.held = dict(Hold.objects.values_list("instrument_id", "until"))
    house.stops = stops(now.astimezone(shop.zone).date())
    house.rests = rests()
    house.likeness = likeness()
    house.coming = begun_meanwhile(now, estimates=estimates)
    _refuse_circles(house)
    return house


def _held(house: House, measures: Sequence[Measure]) -> dict[int, date]:
    """Until when instruments are held back, with the measures that are tried."""
    held = dict(house.held)
    for one in measures:
        if isinstance(one, HoldBack):
            held[one.instrument] = one.until
        elif isinstance(one, LetGoOn):
            held.pop(one.instrument, None)
    return held


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
