"""Making a plan, keeping it, and publishing it."""

from __future__ import annotations

from collections import Counter
from collections.abc import Callable, Hashable, Iterable, Mapping, Sequence
from datetime import datetime, timedelta
from typing import Any, cast

from django.db import IntegrityError, transaction

from shopflow.common import clock
from shopflow.common.refusals import Refused
from shopflow.compute import forecast, schedule
from shopflow.compute.schedule import Solution
from shopflow.people import access
from shopflow.people.access import Deed
from shopflow.people.models import Person
from shopflow.planning.measures import Measure, from_data, to_data
from shopflow.planning.models import InstrumentOutlook, Plan, PlanLine
from shopflow.planning.problem import House, ShopProblem, read_house
from shopflow.planning.running import run_forecast
from shopflow.planning.selectors.fronts import ready_hours, weeks_before
from shopflow.planning.selectors.outlook import outlook_of_year, year_so_far
from shopflow.planning.selectors.plans import differences, published
from shopflow.planning.trying import Paper
from shopflow.planning.work import JobKey

from . import taking_effect
from .telling import tell_the_boards

SEARCH_SECONDS = 10.0
Progress = Callable[[str, float, int], bool]


class PublishedMeanwhile(Refused):
    """Another plan was published since this draft was made. Answered with 409 and the difference."""

    status = 409

    def __init__(self, now: Plan, lines: list[str]) -> None:
        super().__init__(
            f"{now.published_by or 'Someone'} published another plan meanwhile. Yours is still a draft."
        )
        self.now, self.lines = now, lines


class PlannedMeanwhile(Exception):
    """While today's plan was computed, another one was published: read the house again."""


def make_plan(
    *,
    by_name: str,
    measures: Sequence[Measure] = (),
    seconds: float = SEARCH_SECONDS,
    seed: int = 0,
    publish: bool = False,
    on_progress: Progress | None = None,
) -> Plan:
    """Plan the whole house as it stands now; kept as a draft, or published at once where none asks for more.

    `on_progress(words, best hours late, tries)` hears of the first plan and of each better one, and stops the
    search by returning False. The same house, measures, seed and tries give the same plan.
    Raises `Unplannable` or `ComputeError` with the reason; nothing is kept then.
    """
    begins_at, beside = clock.now().replace(second=0, microsecond=0), published()
    house = read_house(begins_at)
    asked = house.problem(measures)
    solution = _search(asked, seconds=seconds, seed=seed, on_progress=on_progress)
    runs = run_forecast(asked, seed=seed, plan=solution)
    same_dice = _same_dice(house, measures, seed) if measures else {}
    with transaction.atomic():
        if publish and published() != beside:
            # What was published meanwhile may have lent hands: a plan that does not know it is none.
            raise PlannedMeanwhile
        plan = Plan.objects.create(
            state=Plan.State.DRAFT,
            measures=to_data(measures),
            beside=beside,
            last_move=asked.last_move,
            begins_at=begins_at,
            made_at=clock.now(),
            made_by=by_name,
            seed=seed,
            tries=solution.iterations,
        )
        _keep_lines(plan, asked, solution)
        _keep_outlooks(plan, asked, solution, runs)
        plan.figures = _figures(asked, solution, runs) | same_dice
        plan.save(update_fields=["figures"])
        if publish:
            _put_up(plan, by_name=by_name)
    return plan


def _search(asked: ShopProblem, *, seconds: float, seed: int, on_progress: Progress | None) -> Solution:
    first = schedule.solve(asked.problem, 600.0, "tardiness", seed, iterations=0)
    if on_progress and not on_progress("a first plan", first.tardiness, 0):
        return first
    if not seconds:
        return first

    def tell(best: float, tries: int) -> bool:
        return on_progress("looking for a better one", best, tries) if on_progress else True

    better = schedule.solve(asked.problem, seconds, "tardiness", seed, tell)
    return better if better.tardiness <= first.tardiness else first


def _by_part(times: Mapping[Hashable, float]) -> Iterable[tuple[JobKey, float]]:
    """The times of a solution by what its jobs are here: a task and the part of it."""
    return cast("dict[JobKey, float]", times).items()


def _keep_lines(plan: Plan, asked: ShopProblem, solution: Solution) -> None:
    rows = []
    for (task_id, part), start in _by_part(solution.start):
        task, finish = asked.tasks[task_id], solution.finish[task_id, part]
        rest = asked.rest_after[task_id, part]
        rows.append(
            PlanLine(
                plan=plan,
                task=task,
                part=part,
                department_id=task.department_id,
                instrument_id=task.instrument_id,
                starts_at=asked.moment(start),
                ends_at=asked.moment(finish),
                rest_until=asked.moment(finish + rest) if rest else None,
                hours=round(asked.hours[task_id, part], 2),
            )
        )
    PlanLine.objects.bulk_create(rows, batch_size=500)


def _keep_outlooks(plan: Plan, asked: ShopProblem, solution: Solution, runs: forecast.Forecast) -> None:
    ends: dict[int, float] = {}
    for (task_id, part), finish in _by_part(solution.finish):
        instrument = asked.tasks[task_id].instrument_id
        ends[instrument] = max(ends.get(instrument, 0.0), finish + asked.rest_after[task_id, part])
    promised = {task.instrument_id: task.instrument.promised_on for task in asked.tasks.values()}
    InstrumentOutlook.objects.bulk_create(
        InstrumentOutlook(
            plan=plan,
            instrument_id=instrument,
            planned=asked.moment(end),
            **{f"p{round(share * 100)}": asked.moment(at) for share, at in runs.groups[instrument].items()},
            odds=runs.groups_on_time.get(instrument) if promised[instrument] else None,
        )
        for instrument, end in ends.items()
    )


def _same_dice(house: House, measures: Sequence[Measure], seed: int) -> dict[str, Any]:
    """With and without the measures by one rule and the same dice, so without the luck of the search."""
    paper = Paper(house, year_so_far(house.now), seed)
    before, after = paper.carefully(), paper.carefully(measures)
    return {"same_dice": {"before": before.as_data(), "after": after.as_data()}}


def _figures(asked: ShopProblem, solution: Solution, runs: forecast.Forecast) -> dict[str, Any]:
    """What is said of a plan as a whole, and compared between a plan and a draft."""
    late = Counter(
        task.instrument_id
        for task in asked.tasks.values()
        if task.instrument.promised_on and runs.groups_on_time.get(task.instrument_id, 1.0) < 0.5
    )
    year = outlook_of_year(asked, runs)
    return {
        "jobs": len(asked.problem.jobs),
        "hours_late": round(solution.tardiness, 1),
        "lower_bound": round(solution.lower_bound, 1),
        "last_finish": asked.moment(solution.makespan).isoformat() if asked.problem.jobs else None,
        "promises": sum(1 for row in runs.groups_on_time.values() if row is not None),
        "promises_at_risk": len(late),
        "expected_late": round(sum(1 - share for share in runs.groups_on_time.values()), 2),
        "year": year,
        "meanwhile": round(asked.begun_a_week, 2),
        "fronts": _fronts(asked.begins_at),
        "complete": solution.complete,
    }


def _fronts(now: datetime) -> dict[str, list[float]]:
    """Hours that stood ready in front of each bench three, two and one weeks ago, by department."""
    weeks = ready_hours(weeks_before(now))
    departments = sorted({pk for hours in weeks for pk in hours})
    return {str(pk): [round(hours.get(pk, 0.0), 1) for hours in weeks] for pk in departments}


@transaction.atomic
def publish(*, plan: Plan, by: Person) -> Plan:
    """Make a draft the plan of the shop, if the plan it was drafted beside is still the one."""
    access.require(by, Deed.PLAN)
    plan = Plan.objects.select_for_update().get(pk=plan.pk)
    if plan.state == Plan.State.PUBLISHED:
        return plan
    if plan.state != Plan.State.DRAFT:
        raise Refused(f"This {plan} can no longer be published.")
    now = Plan.objects.select_for_update().filter(state=Plan.State.PUBLISHED).first()
    if (now.pk if now else None) != plan.beside_id:
        raise PublishedMeanwhile(now, differences(now, plan)) if now else Refused("The plan was dropped.")
    taking_effect.of(from_data(plan.measures), by=by)
    try:
        with transaction.atomic():
            _put_up(plan, by_name=by.name)
    except IntegrityError as race:
        winner = published()
        if winner is None:
            raise
        raise PublishedMeanwhile(winner, differences(winner, plan)) from race
    return plan


def _put_up(plan: Plan, *, by_name: str) -> None:
    Plan.objects.filter(state=Plan.State.PUBLISHED).update(state=Plan.State.PAST)
    plan.state, plan.published_at, plan.published_by = Plan.State.PUBLISHED, clock.now(), by_name
    plan.save(update_fields=["state", "published_at", "published_by"])
    tell_the_boards(plan)


@transaction.atomic
def drop_draft(*, plan: Plan, by: Person) -> None:
    """Put a draft away; nothing it tried takes effect."""
    access.require(by, Deed.PLAN)
    Plan.objects.filter(pk=plan.pk, state=Plan.State.DRAFT).update(state=Plan.State.DROPPED)


def forget_old_plans(*, before: datetime | None = None) -> int:
    """Take away plans replaced or dropped more than eight weeks ago; reports keep their own figures."""
    limit = before or clock.now() - timedelta(weeks=8)
    old = Plan.objects.filter(state__in=[Plan.State.PAST, Plan.State.DROPPED], made_at__lt=limit)
    return old.delete()[0]
