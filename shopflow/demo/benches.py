"""The people at the benches of the play: each takes work, does it, taps it done and writes hours."""

from __future__ import annotations

import random
from collections import defaultdict
from collections.abc import Callable
from datetime import date, datetime, timedelta

from shopflow.catalogue.models import Stage
from shopflow.common import clock
from shopflow.people.models import Person, Tablet
from shopflow.workshop.services import hours, moves
from shopflow.workshop.services.final_check import is_final_check
from shopflow.workshop.services.taps import TapIn

from .asking import Asking
from .moments import Moments
from .opening import Opening
from .photos import photograph_finished
from .pieces import Job, Worker, quarters, urgency

# Hands-on share of a paid hour.
HANDS_ON = 0.67
# A glance of a few minutes at someone else's work is not written down.
WORTH_WRITING = 0.45
LOOKS_AGAIN = timedelta(minutes=75)


class Benches:
    """Racks by department, and those who take from them."""

    def __init__(
        self,
        *,
        rng: random.Random,
        opening: Opening,
        moments: Moments,
        asking: Asking,
        workers: list[Worker],
        manager: Person,
        on_signed: Callable[[Job], None],
    ) -> None:
        self.rng, self.opening, self.moments = rng, opening, moments
        self.asking, self.workers, self.manager, self.on_signed = asking, workers, manager, on_signed
        self.racks: dict[str, list[Job]] = defaultdict(list)

    def open(self, begin: datetime) -> None:
        for worker in self.workers:
            self.moments.later(begin, self._free(worker))

    def rack(self, job: Job) -> None:
        self.racks[job.department].append(job)

    # --- a day at a bench ---

    def _free(self, worker: Worker) -> Callable[[datetime], None]:
        return lambda now: self.look_for_work(worker, now)

    def look_for_work(self, worker: Worker, now: datetime) -> None:
        today = self.opening.day_of(now)
        shift = worker.shift(today, self.opening)
        if shift is None or now >= shift[1] - timedelta(minutes=10):
            morning = self.opening.at(self.opening.after(today), 8 + self.rng.random() * 0.2)
            self.moments.later(morning, self._free(worker))
            return
        if worker.job is None:
            worker.job = self._choose(worker)
        if worker.job is None:
            self.moments.later(now + LOOKS_AGAIN, self._free(worker))
            return
        self._work_on(worker, worker.job, now, shift[1])

    def _choose(self, worker: Worker) -> Job | None:
        racks = (job for department in worker.benches for job in self.racks[department])
        for job in sorted(racks, key=lambda job: urgency(worker, job)):
            if self._may_take(worker, job):
                self.racks[job.department].remove(job)
                return job
        return None

    def _may_take(self, worker: Worker, job: Job) -> bool:
        if job.kind == Stage.Kind.PROVING:
            return job.last_hands is not worker
        return self.asking.may_take(job)

    def _work_on(self, worker: Worker, job: Job, now: datetime, shift_end: datetime) -> None:
        job.worker = worker
        if job.kind in {Stage.Kind.RACKED, Stage.Kind.RESTING}:
            self.tap(job, worker.person, worker.tablet)
        if not job.left:
            job.left = job.hours_of_stage()
        room = (shift_end - now).total_seconds() / 3600 * HANDS_ON * worker.pace
        spent = min(job.left, max(room, 0.1))
        done_at = now + timedelta(hours=spent / HANDS_ON / worker.pace)
        self.moments.later(done_at, lambda moment: self._worked(worker, job, spent, moment))

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
        was_hands_on = job.kind == Stage.Kind.BENCHED
        if job.mishap and was_hands_on and job.stages[job.at - 1].kind == Stage.Kind.BENCHED:
            job.mishap = False
            self.tap(job, worker.person, worker.tablet, to=job.at - 1, reason="not good enough, done over")
            return
        if was_hands_on:
            job.last_hands = worker
        self.tap(job, worker.person, worker.tablet)
        if job.kind == Stage.Kind.BENCHED:
            return
        worker.job = job.worker = None
        self._laid_down(job)

    def _laid_down(self, job: Job) -> None:
        """What becomes of work out of whose stage nobody has hands on it."""
        if job.kind == Stage.Kind.RESTING:
            over = self.opening.noticed(clock.now() + job.rest, self.rng)
            self.moments.later(over, lambda now: self._rest_over(job))
        elif job.kind == Stage.Kind.PROVING:
            self.rack(job)
        elif job.is_signed:
            self.on_signed(job)

    def _rest_over(self, job: Job) -> None:
        """What only had to rest is signed by whoever looks; the rest waits for hands."""
        if job.following != Stage.Kind.SIGNED:
            self.rack(job)
            return
        self.tap(job, *self._somebody(job.department, clock.today()))
        self.on_signed(job)

    def _somebody(self, department: str, day: date) -> tuple[Person, Tablet | None]:
        """Who is there of a bench, its own people first; the manager where nobody is."""
        there = [
            worker
            for worker in self.workers
            if department in worker.benches and worker.shift(day, self.opening)
        ]
        there.sort(key=lambda worker: worker.benches.index(department))
        return (there[0].person, there[0].tablet) if there else (self.manager, None)

    # --- what is done on the spot ---

    def errand(self, job: Job, now: datetime) -> None:
        """Work that does not wait on a rack: a piano is tagged when it is carried in, and taken home."""
        by, tablet = self._somebody(job.department, self.opening.day_of(now))
        self.tap(job, by, tablet)
        spent = min(job.hours, 3.0)
        self.moments.later(now + timedelta(hours=spent), lambda _: self._errand_done(job, by, tablet, spent))

    def _errand_done(self, job: Job, by: Person, tablet: Tablet | None, spent: float) -> None:
        while job.kind == Stage.Kind.BENCHED:
            self.tap(job, by, tablet)
        hours.enter_hours(task=job.task, hours=quarters(spent), by=by)
        self._laid_down(job)

    def tap(
        self, job: Job, by: Person, tablet: Tablet | None, *, to: int | None = None, reason: str = ""
    ) -> None:
        """One tap on the bench's tablet; the play is wrong if the shop refuses it."""
        to = job.at + 1 if to is None else to
        if job.stages[to].kind == Stage.Kind.SIGNED and is_final_check(job.task.operation):
            photograph_finished(check=job.task, rng=random.Random(job.task.pk), by=by)
        tapped_at = clock.now() - timedelta(seconds=self.rng.random() * 2)
        answer = moves.move_task(
            task_id=job.task.pk,
            to_stage_id=job.stages[to].pk,
            seen_stage_id=job.stages[job.at].pk,
            by=by,
            tap=TapIn.of(key=f"{self.rng.getrandbits(128):032x}", by=by, tablet=tablet, tapped_at=tapped_at),
            reason=reason,
            # A final check rests on photos, readings and counts: the shop looks for them itself.
            facts=None if is_final_check(job.task.operation) else self.asking.facts_of(job),
        )
        if answer.status != 200:
            raise RuntimeError(f"the play was refused: {answer.said}")
        job.at = to
        self.asking.moved(job)
