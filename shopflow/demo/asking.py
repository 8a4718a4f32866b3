"""The shop's own question, asked by the play before it taps: from what it has seen, without reading anew."""

from __future__ import annotations

from collections.abc import Mapping

from shopflow.catalogue.knowledge import knowledge
from shopflow.catalogue.models import Kind, Stage
from shopflow.common import clock
from shopflow.workshop.selectors.stay import Stay
from shopflow.workshop.services import order

from .pieces import Job, Piano


class Asking:
    """Answers are kept for each piano until something about it changes."""

    def __init__(self, stages: Mapping[int, Stage]) -> None:
        self.stages = stages
        self.known = {kind: knowledge(kind) for kind in Kind.values}

    def may_take(self, job: Job) -> bool:
        """Whether the bench would let somebody take the next step with this work now."""
        answers = job.piano.answers
        if job.task.pk not in answers:
            answers[job.task.pk] = not self.in_the_way(job)
        return answers[job.task.pk]

    def in_the_way(self, job: Job) -> list[order.Hindrance]:
        step = order.Step(job.task, job.stages[job.at + 1], self.stages, by_id=0)
        return order.hindrances(step, self.facts_of(job))

    def facts_of(self, job: Job) -> order.Facts:
        """What the shop would read of this task and its piano: the play has done all of it itself."""
        pk, piano = job.task.pk, job.piano
        return order.Facts(
            now=clock.now(),
            known=self.known,
            stays={piano.instrument.pk: _stay(piano)},
            snags={pk: [job.snag]} if job.snag else {},
            waits={pk: _waits(job)} if job.needs else {},
            hands={pk: job.last_hands.person.pk} if job.last_hands else {},
        )

    def moved(self, job: Job) -> None:
        """Its task stands in another stage now, and what its piano answers has changed."""
        stage, now = job.stages[job.at], clock.now()
        job.task.stage, job.task.stage_since = stage, now
        job.task.earliest_touch = order.earliest_touch(
            stage, since=now, least_hours=job.task.least_rest_hours
        )
        if job.is_signed:
            job.piano.signed.append(job.task)
        job.piano.answers.clear()


def _waits(job: Job) -> list[order.Wait]:
    others = [other for other in job.piano.jobs if other.task.pk in job.needs]
    return [
        order.Wait(other.task.name, other.task.department.name, other.task.stage.name) for other in others
    ]


def _stay(piano: Piano) -> Stay:
    """What was signed and what is open, as the play has seen it."""
    still_open = tuple(job.task for job in piano.jobs if not job.is_signed)
    return Stay(piano.instrument.pk, signed_tasks=tuple(piano.signed), open_tasks=still_open)
