"""A shop that works at random for some weeks, so that reports have something to tell."""

from __future__ import annotations

import random
from contextlib import suppress
from datetime import UTC, date, datetime, timedelta
from decimal import Decimal

from shopflow.common import clock
from shopflow.common.refusals import Refused
from shopflow.instruments.models import Instrument
from shopflow.workshop.models import Move, Snag, Task
from shopflow.workshop.services import hours, layout, moves, passages, snags
from tests import cast


class RandomShop:
    """Every deed that a report counts, in random order, each at its own moment of the held clock."""

    def __init__(self, *, seed: int, begin: date, zone: str = "Europe/London") -> None:
        self.rng = random.Random(seed)
        self.now = datetime(begin.year, begin.month, begin.day, 7, tzinfo=UTC)
        self.shop = cast.shop(time_zone=zone)
        bench, plating = cast.department(), cast.department("plating")
        self.maud = cast.manager()
        self.ops = [
            cast.operation("strip", at=bench),
            cast.operation("rub-out", at=bench),
            cast.operation("nickel", at=plating),
        ]

    def work(self, *, hours: int) -> None:
        """Some hours of the shop: a deed now and then, by day and by night."""
        end = self.now + timedelta(hours=hours)
        while self.now < end:
            self.now += timedelta(minutes=self.rng.randint(20, 240))
            if self.now < end:
                with clock.at(self.now), suppress(Refused):
                    self._deed()
        self.now = end

    def _deed(self) -> None:
        deeds = [self._step] * 9 + [self._arrive, self._snag, self._hours, self._undo, self._step_back]
        self.rng.choice([*deeds, self._leave, self._leave, self._add_or_drop, self._come_back])()

    def _arrive(self) -> None:
        day = clock.today() - timedelta(days=self.rng.choice([0, 0, 0, 1, 9]))
        piano = cast.instrument(by=self.maud, arrived=day)
        layout.lay_out(instrument=piano, operations=self.rng.sample(self.ops, 2), by=self.maud)

    def _task(self) -> Task:
        return self.rng.choice(
            list(Task.objects.open().filter(instrument__left_on=None).order_by("-stage__position", "pk")[:4])
            or [None]
        )

    def _step(self, by: int = 1) -> None:
        task = self._task()
        if task:
            self._move(task, min(max(0, task.path.index(task.stage_id) + by), len(task.path) - 1))

    def _step_back(self) -> None:
        """Also out of signed, which opens a finished instrument again."""
        signed = list(Task.objects.signed().filter(instrument__left_on=None))
        if signed:
            self._move(self.rng.choice(signed), 1)

    def _move(self, task: Task, place: int) -> None:
        moves.move_task(
            task_id=task.pk,
            to_stage_id=task.path[place],
            seen_stage_id=task.stage_id,
            by=self.maud,
            tap=cast.tap(self.maud, tapped_at=self.now - timedelta(hours=self.rng.choice([0, 0, 0, 30]))),
            reason="so it was",
            override=True,
        )

    def _undo(self) -> None:
        last = Move.objects.filter(undoes=None, undone_by=None).order_by("-pk").first()
        if last:
            moves.undo_move(move_id=last.pk, by=self.maud, tap=cast.tap(self.maud))

    def _snag(self) -> None:
        stopped = Snag.objects.open().first()
        if stopped and self.rng.random() < 0.5:
            snags.clear_snag(snag=stopped, by=self.maud)
        elif task := self._task():
            day = clock.today()
            snags.raise_snag(
                task=task, cause="part", reason="one hinge is missing", ask_again_on=day, by=self.maud
            )

    def _hours(self) -> None:
        if task := self._task():
            hours.enter_hours(task=task, hours=Decimal("1.25"), by=self.maud)

    def _leave(self) -> None:
        piano = self._piano(left_on=None)
        if piano:
            reason = "fetched" if self.rng.random() < 0.2 else ""
            passages.let_leave(instrument=piano, by=self.maud, reason=reason)

    def _come_back(self) -> None:
        piano = self._piano(left_on__isnull=False)
        if piano and self.rng.random() < 0.5:
            passages.arrive(instrument=piano, on=clock.today(), by=self.maud)

    def _add_or_drop(self) -> None:
        task, piano = self._task(), self._piano(left_on=None)
        if piano and self.rng.random() < 0.5:
            cast.task(self.rng.choice(self.ops), on=piano, by=self.maud)
        elif task:
            layout.drop_task(task=task, by=self.maud, reason="not needed")

    def _piano(self, **which: object) -> Instrument | None:
        return self.rng.choice(list(Instrument.objects.filter(**which).order_by("pk")) or [None])
