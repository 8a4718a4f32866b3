"""Two years of an invented shop, played hour by hour through the real services.

A queue of moments: each person takes the next piece of work of a bench, works on it, taps the stage done,
writes hours; rests end, snags come and go, pianos arrive, are started, finish and leave. Nothing is written
except by the deeds that the screens use, each at its own moment of the held clock.
"""

from __future__ import annotations

import heapq
import itertools
import random
from collections import defaultdict
from collections.abc import Callable
from datetime import date, datetime, time, timedelta
from zoneinfo import ZoneInfo

from shopflow.catalogue.models import Operation, Route, Stage
from shopflow.catalogue.selectors import stages_by_id
from shopflow.common import clock
from shopflow.customers.models import Customer
from shopflow.people.models import Person
from shopflow.workshop.models import Snag, Task, TaskNeed
from shopflow.workshop.services import hours, intake, layout, moves, passages, snags
from shopflow.workshop.services.taps import TapIn

from . import pianos
from .pieces import Job, Piano, Worker, quarters, urgency

# Hands-on share of a paid hour, and how many started instruments the house carries at once.
HANDS_ON = 0.67
# A glance of a few minutes at someone else's work is not written down.
WORTH_WRITING = 0.45
STARTED_AT_ONCE = 30
# The shop takes in what keeps its house about this full; people wait for a place.
HOUSE_HOLDS = 46
STAYS_AT_THE_END = timedelta(days=8)

SNAGS = (
    (Snag.Cause.CUSTOMER, "colour sample not signed yet", 20),
    (Snag.Cause.CUSTOMER, "owner has to decide about the cracked panel", 26),
    (Snag.Cause.SUPPLIER, "felt set not delivered", 22),
    (Snag.Cause.SUPPLIER, "wound strings promised for next week", 28),
    (Snag.Cause.PART, "one hinge of the pair is missing", 6),
    (Snag.Cause.FAULT, "sanded through at the edge of the fall", 4),
    (Snag.Cause.BENCH, "booth taken until Thursday", 3),
    (Snag.Cause.CURE, "still prints under the thumb", 5),
    (Snag.Cause.UNCLEAR, "two sets of screws, which belongs here?", 2),
)


class Play:
    def __init__(
        self,
        *,
        rng: random.Random,
        zone: ZoneInfo,
        begin: datetime,
        end: datetime,
        manager: Person,
        workers: list[Worker],
        closed: set[date],
        on_monday: Callable[[], object],
    ) -> None:
        self.rng, self.zone, self.begin, self.end = rng, zone, begin, end
        self.manager, self.workers, self.closed = manager, workers, closed
        self.on_monday = on_monday
        self.routes = {route.code: route for route in Route.objects.in_use()}
        self.stages = stages_by_id()
        self.rests = {op.pk: op.rest for op in Operation.objects.select_related("rest") if op.rest}
        self.pianos: list[Piano] = []
        self.jobs: dict[int, Job] = {}
        self.racks: dict[str, list[Job]] = defaultdict(list)
        self.unsigned: dict[int, int] = defaultdict(int)
        self.opens: dict[int, list[Job]] = defaultdict(list)
        self._moments: list[tuple[datetime, int, Callable[[datetime], None]]] = []
        self._numbers = itertools.count()

    # --- the queue of moments ---

    def later(self, moment: datetime, deed: Callable[[datetime], None]) -> None:
        if moment < self.end:
            heapq.heappush(self._moments, (moment, next(self._numbers), deed))

    def run(self) -> None:
        """Play every moment from the beginning to the end, each with the clock held at it."""
        for _ in range(HOUSE_HOLDS - 8):
            self.later(self.begin + timedelta(minutes=self.rng.randint(0, 60 * 30)), self.arrival)
        self.later(self._monday_after(self.begin), self.monday)
        self.later(self._morning(self.begin.date(), 9), self.office_hour)
        for worker in self.workers:
            self.later(self.begin, self._free(worker))
        while self._moments:
            moment, _, deed = heapq.heappop(self._moments)
            with clock.at(moment):
                deed(moment)

    def _morning(self, day: date, hour: float) -> datetime:
        return datetime.combine(day, time(0), tzinfo=self.zone) + timedelta(hours=hour)

    def _is_open(self, day: date) -> bool:
        return day.weekday() < 5 and day not in self.closed

    def _next_open(self, day: date) -> date:
        day += timedelta(days=1)
        while not self._is_open(day):
            day += timedelta(days=1)
        return day

    # --- the office ---

    def arrival(self, now: datetime) -> None:
        share = pianos.share(self.rng)
        customer = Customer.objects.create(**pianos.owner(self.rng))
        instrument = intake.take_in(
            by=self.manager,
            number=str(201 + len(self.pianos)),
            customer=customer,
            **pianos.facts(self.rng, kind=share.kind),
        )
        self.pianos.append(Piano(instrument, share.route))

    def _monday_after(self, moment: datetime) -> datetime:
        day = moment.astimezone(self.zone).date()
        return self._morning(day + timedelta(days=7 - day.weekday()), 6)

    def monday(self, now: datetime) -> None:
        self.on_monday()
        self.later(self._monday_after(now), self.monday)

    def office_hour(self, now: datetime) -> None:
        """Each open morning: let go what is finished, fill the house, start what hands can carry."""
        today = now.astimezone(self.zone).date()
        self._let_leave(today)
        in_house = sum(piano.instrument.left_on is None for piano in self.pianos)
        if in_house < HOUSE_HOLDS and self.rng.random() < 0.15 * (HOUSE_HOLDS - in_house):
            self.later(now + timedelta(hours=self.rng.random() * 6), self.arrival)
        running = sum(p.started and p.instrument.finished_on is None for p in self.pianos)
        for piano in [p for p in self.pianos if not p.started][: max(0, STARTED_AT_ONCE - running)][:2]:
            self.start(piano, today)
        self.later(self._morning(self._next_open(today), 9), self.office_hour)

    def _let_leave(self, today: date) -> None:
        if self.end.astimezone(self.zone).date() - today < STAYS_AT_THE_END:
            return  # so that something finished stands there, to be handed over by whoever tries the demo
        for piano in self.pianos:
            instrument = piano.instrument
            if instrument.left_on or not piano.started or any(not j.is_signed for j in self._in_house(piano)):
                continue
            instrument.refresh_from_db(fields=["finished_on", "left_on"])
            if instrument.finished_on and self.rng.random() < 0.22:
                passages.let_leave(instrument=instrument, by=self.manager)
                instrument.left_on = today
                for job in piano.jobs:
                    if job.task.at_the_owners and not job.needs:
                        self._rack(job)

    def _in_house(self, piano: Piano) -> list[Job]:
        return [job for job in piano.jobs if not job.task.at_the_owners]

    def start(self, piano: Piano, today: date) -> None:
        route = self.routes[piano.route]
        # What the route takes, and the queue at the benches as the office guesses it.
        weeks = self.rng.uniform(route.weeks_likely, route.weeks_high) + self.rng.uniform(5, 15)
        piano.instrument = intake.promise(
            instrument=piano.instrument, on=today + timedelta(days=round(weeks * 7)), by=self.manager
        )
        tasks = layout.start_route(instrument=piano.instrument, route=route, by=self.manager)
        needs: dict[int, set[int]] = defaultdict(set)
        for later, earlier in TaskNeed.objects.filter(task__in=tasks).values_list("task_id", "needs_id"):
            needs[later].add(earlier)
        ease = self.rng.lognormvariate(0.0, 0.16)
        piano.jobs = [self._job(task, piano, needs[task.pk], ease) for task in tasks]
        piano.started = True
        for job in piano.jobs:
            self.jobs[job.task.pk] = job
            for earlier in job.needs:
                self.opens[earlier].append(job)
            if not job.needs:
                self._rack(job)

    def _job(self, task: Task, piano: Piano, needs: set[int], ease: float) -> Job:
        rest = self.rests.get(task.operation_id)
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

    def _rack(self, job: Job) -> None:
        if job.task.at_the_owners and job.piano.instrument.left_on is None:
            return
        self.racks[job.department].append(job)
        if self.rng.random() < 0.042:
            self._stop(job)

    # --- snags ---

    def _stop(self, job: Job) -> None:
        cause, reason, days = self.rng.choice(SNAGS)
        today = clock.today()
        # No name: bench pages show this.
        outside = {"customer": "the owner", "supplier": "the supplier"}
        snag = snags.raise_snag(
            task=job.task,
            cause=cause,
            reason=reason,
            ask_again_on=today + timedelta(days=self.rng.randint(1, 7)),
            by=self.manager,
            owner_outside=outside.get(cause, ""),
        )
        job.stopped = True
        lasts = timedelta(days=max(1, self.rng.gauss(days, days / 3)), hours=self.rng.random() * 5)
        self.later(clock.now() + lasts, lambda now: self._let_go(job, snag))

    def _let_go(self, job: Job, snag: Snag) -> None:
        snags.clear_snag(snag=snag, by=self.manager, note="settled")
        job.stopped = False

    # --- the benches ---

    def _free(self, worker: Worker) -> Callable[[datetime], None]:
        return lambda now: self.look_for_work(worker, now)

    def look_for_work(self, worker: Worker, now: datetime) -> None:
        today = now.astimezone(self.zone).date()
        shift = worker.shift(today, self.zone) if self._is_open(today) else None
        if shift is None or now >= shift[1] - timedelta(minutes=10):
            self.later(self._morning(self._next_open(today), 8 + self.rng.random() * 0.2), self._free(worker))
            return
        if worker.job is None:
            worker.job = self._choose(worker)
        if worker.job is None:
            self.later(now + timedelta(minutes=75), self._free(worker))
            return
        self._work_on(worker, worker.job, now, shift[1])

    def _choose(self, worker: Worker) -> Job | None:
        for department in (worker.home, *worker.also):
            fitting = [job for job in self.racks[department] if self._may_take(worker, job)]
            if fitting:
                job = min(fitting, key=urgency)
                self.racks[department].remove(job)
                return job
        return None

    def _may_take(self, worker: Worker, job: Job) -> bool:
        if job.stopped:
            return False
        return job.kind != Stage.Kind.PROVING or job.last_hands is not worker

    def _work_on(self, worker: Worker, job: Job, now: datetime, shift_end: datetime) -> None:
        job.worker = worker
        if job.kind == Stage.Kind.RACKED:
            self._tap(job, worker)
        if not job.left:
            is_proof = job.kind == Stage.Kind.PROVING
            job.left = min(0.4, job.hours_of_stage()) if is_proof else job.hours_of_stage()
        room = (shift_end - now).total_seconds() / 3600 * HANDS_ON * worker.pace
        spent = min(job.left, max(room, 0.1))
        done_at = now + timedelta(hours=spent / HANDS_ON / worker.pace)
        self.later(done_at, lambda moment: self._worked(worker, job, spent, moment))

    def _worked(self, worker: Worker, job: Job, spent: float, now: datetime) -> None:
        job.left = max(0.0, job.left - spent)
        worker.unwritten += spent
        stage_is_done = job.left < 0.05
        if stage_is_done:
            job.left = 0.0
            self._stage_done(worker, job)
        if not stage_is_done or worker.job is None:
            self._write_hours(worker, job)
        self.look_for_work(worker, now)

    def _write_hours(self, worker: Worker, job: Job) -> None:
        """In one line at the end of the day, or when the work is laid down."""
        if worker.unwritten >= WORTH_WRITING:
            hours.enter_hours(task=job.task, hours=quarters(worker.unwritten), by=worker.person)
        worker.unwritten = 0.0

    def _stage_done(self, worker: Worker, job: Job) -> None:
        if job.mishap and job.kind == Stage.Kind.BENCHED and job.at > 1:
            job.mishap = False
            self._tap(job, worker, to=job.at - 1, reason="not good enough, done over")
            return
        if job.kind == Stage.Kind.BENCHED:
            job.last_hands = worker
        self._tap(job, worker)
        if job.kind == Stage.Kind.BENCHED:
            return
        worker.job = job.worker = None
        if job.kind == Stage.Kind.RESTING:
            self.later(self._after_rest(job), lambda now: self._rest_over(job))
        elif job.kind == Stage.Kind.PROVING:
            self.racks[job.department].insert(0, job)
        elif job.is_signed:
            self._signed(job)

    def _after_rest(self, job: Job) -> datetime:
        """When somebody notices: in the working hours of an open day, once the rest is over."""
        over = (clock.now() + job.rest).astimezone(self.zone)
        day, noticed = over.date(), 8.3 + self.rng.random() * 7
        if not self._is_open(day) or over > self._morning(day, noticed):
            day = self._next_open(day)
        return self._morning(day, noticed)

    def _rest_over(self, job: Job) -> None:
        somebody = next((w for w in self.workers if w.home == job.department), self.workers[0])
        self._tap(job, somebody)
        if job.is_signed:
            self._signed(job)
        else:
            self.racks[job.department].append(job)

    def _signed(self, job: Job) -> None:
        for following in self.opens[job.task.pk]:
            following.needs.discard(job.task.pk)
            if not following.needs:
                self._rack(following)
        if all(j.is_signed for j in self._in_house(job.piano)):
            job.piano.instrument.refresh_from_db(fields=["finished_on", "left_on"])

    def _tap(self, job: Job, worker: Worker, *, to: int | None = None, reason: str = "") -> None:
        """One tap on the bench's tablet; the play is wrong if the shop refuses it."""
        to = job.at + 1 if to is None else to
        now = clock.now()
        tap = TapIn.of(
            key=f"{self.rng.getrandbits(128):032x}",
            by=worker.person,
            tablet=worker.tablet,
            tapped_at=now - timedelta(seconds=self.rng.random() * 2),
        )
        answer = moves.move_task(
            task_id=job.task.pk,
            to_stage_id=job.stages[to].pk,
            seen_stage_id=job.stages[job.at].pk,
            by=worker.person,
            tap=tap,
            reason=reason,
        )
        if answer.status != 200:
            raise RuntimeError(f"the play was refused: {answer.said}")
        job.at = to
