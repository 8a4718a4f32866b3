"""What stops work in the play: snags that come with the work, are asked about, and go."""

from __future__ import annotations

import random
from datetime import date, timedelta

from shopflow.common import clock
from shopflow.people.models import Person
from shopflow.workshop.models import Snag
from shopflow.workshop.services import snags

from .moments import Moments
from .opening import Opening
from .pieces import Job
from .stops import OUTSIDE, SETTLED, stop_for

# How often work that something can stop is stopped before it begins.
HOW_OFTEN = 0.1
# The office asks on the day it wrote down, mostly; it never lets a week go by.
FORGETS, AT_THE_LATEST = 0.1, timedelta(days=5)


class Trouble:
    def __init__(self, rng: random.Random, opening: Opening, moments: Moments, by: Person) -> None:
        self.rng, self.opening, self.moments, self.by = rng, opening, moments, by
        self.open: list[Snag] = []

    def may_come(self, job: Job) -> None:
        """Work that has just become possible is sometimes stopped by what fits it."""
        stop = stop_for(job.code, self.rng)
        if stop is None or self.rng.random() > HOW_OFTEN:
            return
        snag = snags.raise_snag(
            task=job.task,
            cause=stop.cause,
            reason=stop.reason,
            ask_again_on=self._some_days_after(clock.today()),
            by=self.by,
            owner_outside=OUTSIDE.get(stop.cause, ""),
        )
        self.open.append(snag)
        job.snag = snag
        job.piano.answers.clear()
        over = self.opening.noticed(clock.now() + timedelta(days=stop.lasts(self.rng)), self.rng)
        self.moments.later(over, lambda now: self._let_go(job, snag))

    def ask_again(self, today: date) -> None:
        for snag in self.open:
            overdue = today - snag.ask_again_on
            forgotten = overdue < AT_THE_LATEST and self.rng.random() < FORGETS
            if overdue >= timedelta(0) and not forgotten:
                snags.ask_again(snag=snag, on=self._some_days_after(today), by=self.by)

    def _some_days_after(self, today: date) -> date:
        return self.opening.on_or_after(today + timedelta(days=self.rng.randint(2, 7)))

    def _let_go(self, job: Job, snag: Snag) -> None:
        snags.clear_snag(snag=snag, by=self.by, note=SETTLED[Snag.Cause(snag.cause)])
        self.open.remove(snag)
        job.snag = None
        job.piano.answers.clear()
