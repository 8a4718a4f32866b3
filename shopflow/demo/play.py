"""Two years of an invented shop, played hour by hour through the real services.

A queue of moments: pianos arrive, are tagged and promised, go from bench to bench, finish and leave; rests
end, snags come and go. Nothing is written except by the deeds that the screens use, each at its own moment
of the held clock.
"""

from __future__ import annotations

import random
from collections import defaultdict
from collections.abc import Callable, Sequence
from datetime import date, datetime, timedelta

from shopflow.catalogue.models import Operation, Route
from shopflow.catalogue.selectors import stages_by_id
from shopflow.common import clock
from shopflow.customers.models import Customer
from shopflow.people.models import Person
from shopflow.workshop.models import Task, TaskNeed
from shopflow.workshop.services import intake, passages

from . import pianos
from .asking import Asking
from .benches import Benches
from .moments import Moments
from .opening import Opening
from .pianos import Share
from .pieces import Job, Piano, Worker
from .trouble import Trouble

# How many pianos the house carries at once with work on them; people wait at home for a place.
UNDER_WAY_AT_ONCE = 16
# What is promised, as a share of the weeks that a route is likely to take.
PROMISED = (0.9, 1.4)
# In the last weeks some come only to be looked at.
LOOKED_AT_WITHIN = timedelta(days=35)
STAYS_AT_THE_END = timedelta(days=8)
FILLED_WITHIN = timedelta(days=40)


class Play:
    def __init__(
        self,
        *,
        rng: random.Random,
        opening: Opening,
        begin: datetime,
        end: datetime,
        manager: Person,
        workers: list[Worker],
        to_be_looked_at: Sequence[Share],
        on_monday: Callable[[], object],
    ) -> None:
        self.rng, self.opening, self.begin, self.end = rng, opening, begin, end
        self.manager, self.on_monday = manager, on_monday
        self.to_be_looked_at = list(to_be_looked_at)
        self.routes = {route.code: route for route in Route.objects.in_use()}
        self.stages = stages_by_id()
        self.operations = {op.pk: op for op in Operation.objects.select_related("rest")}
        self.pianos: list[Piano] = []
        self.opens: dict[int, list[Job]] = defaultdict(list)
        self.moments = Moments(end)
        self.trouble = Trouble(rng, opening, self.moments, manager)
        self.benches = Benches(
            rng=rng,
            opening=opening,
            moments=self.moments,
            asking=Asking(self.stages),
            workers=workers,
            manager=manager,
            on_signed=self._signed,
        )

    def run(self) -> None:
        """Play every moment from the beginning to the end."""
        first = self.opening.on_or_after(self.begin.date())
        self.moments.later(self._monday_after(self.begin), self.monday)
        self.moments.later(self.opening.at(first, 9), self.office_hour)
        self.benches.open(self.begin)
        self.moments.run()

    # --- the office ---

    def _monday_after(self, moment: datetime) -> datetime:
        day = self.opening.day_of(moment)
        return self.opening.at(day + timedelta(days=7 - day.weekday()), 6)

    def monday(self, now: datetime) -> None:
        self.on_monday()
        self.moments.later(self._monday_after(now), self.monday)

    def office_hour(self, now: datetime) -> None:
        """Each open morning: let go what is finished, ask about what stands still, take in what fits."""
        today = self.opening.day_of(now)
        self._let_leave(now, today)
        self.trouble.ask_again(today)
        for share in self._comes_today(now):
            self.moments.later(now + timedelta(hours=self.rng.random() * 3), self._arrival(share))
        self.moments.later(self.opening.at(self.opening.after(today), 9), self.office_hour)

    def _comes_today(self, now: datetime) -> list[Share]:
        """What hands can carry, no more than two a day; and what comes to be looked at."""
        coming = []
        under_way = sum(piano.is_under_way for piano in self.pianos)
        has_room = min(1.0, (now - self.begin) / FILLED_WITHIN) * UNDER_WAY_AT_ONCE - under_way
        coming += [pianos.share(self.rng) for _ in range(max(0, min(2, round(has_room))))]
        since = now - (self.end - LOOKED_AT_WITHIN)
        looked_at = sum(not piano.route for piano in self.pianos)
        if since > timedelta(0) and looked_at < len(self.to_be_looked_at) * (since / LOOKED_AT_WITHIN):
            coming.append(self.to_be_looked_at[looked_at])
        return coming

    def _arrival(self, share: Share) -> Callable[[datetime], None]:
        return lambda now: self.arrival(share, now)

    def arrival(self, share: Share, now: datetime) -> None:
        """What was agreed beforehand is laid out, promised, and tagged as it is carried in."""
        customer = Customer.objects.create(**pianos.owner(self.rng))
        route = self.routes.get(share.route)
        instrument = intake.take_in(
            by=self.manager,
            number=str(201 + len(self.pianos)),
            customer=customer,
            route=route,
            promised_on=self._promise(route) if route else None,
            **pianos.facts(self.rng, share),
        )
        piano = Piano(instrument, share.route)
        self.pianos.append(piano)
        if route is not None:
            self._know(piano)
            self.benches.errand(next(job for job in piano.jobs if job.code == "receive"), now)

    def _promise(self, route: Route) -> date:
        """Longer than the route is likely to take, never for a day on which the shop is closed."""
        weeks = self.rng.uniform(*PROMISED) * (route.weeks_likely or 10)
        return self.opening.on_or_after(clock.today() + timedelta(days=round(weeks * 7)))

    def _let_leave(self, now: datetime, today: date) -> None:
        if self.opening.day_of(self.end) - today < STAYS_AT_THE_END:
            return  # so that something finished stands there, to be handed over by whoever tries the demo
        for piano in self.pianos:
            instrument = piano.instrument
            if instrument.left_on or not piano.is_through:
                continue
            instrument.refresh_from_db(fields=["finished_on", "left_on"])
            if instrument.finished_on and self.rng.random() < 0.22:
                passages.let_leave(instrument=instrument, by=self.manager)
                instrument.left_on = today
                piano.answers.clear()
                for job in piano.jobs:
                    if job.task.at_the_owners and not job.needs:
                        self.benches.errand(job, now + timedelta(hours=1))

    # --- what a piano needs ---

    def _know(self, piano: Piano) -> None:
        """Its tasks as the play sees them, each with those that it waits for."""
        rows = Task.objects.in_the_job().filter(instrument=piano.instrument)
        tasks = list(rows.select_related("stage", "department").order_by("position"))
        needs: dict[int, set[int]] = defaultdict(set)
        for later, earlier in TaskNeed.objects.filter(task__in=tasks).values_list("task_id", "needs_id"):
            needs[later].add(earlier)
        ease = self.rng.lognormvariate(0.0, 0.16)
        piano.jobs = [self._job(task, piano, needs[task.pk], ease) for task in tasks]
        for job in piano.jobs:
            for earlier in job.needs:
                self.opens[earlier].append(job)

    def _job(self, task: Task, piano: Piano, needs: set[int], ease: float) -> Job:
        task.instrument = piano.instrument
        task.operation = self.operations.get(task.operation_id or 0)
        rest = task.operation.rest if task.operation else None
        hours_of_rest = (
            self.rng.triangular(float(rest.hours_low), float(rest.hours_high), float(rest.hours_likely))
            if rest
            else 0.0
        )
        return Job(
            task=task,
            piano=piano,
            stages=[self.stages[pk] for pk in task.path],
            department=self.stages[task.path[0]].department.code,
            needs=needs,
            hours=max(0.2, float(task.hours_likely) * ease * self.rng.lognormvariate(0.02, 0.28)),
            rest=timedelta(hours=hours_of_rest),
            mishap=self.rng.random() < 0.012,
        )

    def _signed(self, job: Job) -> None:
        for following in self.opens[job.task.pk]:
            following.needs.discard(job.task.pk)
            if not following.needs and self._is_where_it_is_done(following):
                self.benches.rack(following)
                self.trouble.may_come(following)
        if job.piano.is_through:
            job.piano.instrument.refresh_from_db(fields=["finished_on", "left_on"])

    def _is_where_it_is_done(self, job: Job) -> bool:
        return job.task.at_the_owners == (job.piano.instrument.left_on is not None)
