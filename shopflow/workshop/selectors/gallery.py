"""The photos of an instrument: before and after side by side, and all of them with their tasks."""

from __future__ import annotations

from dataclasses import dataclass

from django.db.models import QuerySet

from shopflow.common.job_runs import is_awake
from shopflow.instruments.models import Instrument
from shopflow.photos.models import Photo
from shopflow.photos.selectors import Pair, pairs_among
from shopflow.workshop.models import Task


@dataclass(frozen=True, slots=True)
class Gallery:
    """Photos that can be seen, those whose copies are being made, that did not open, that were put aside."""

    photos: list[Photo]
    pairs: list[Pair]
    waiting: list[Photo]
    refused: list[Photo]
    worker_is_away: bool
    aside: list[Photo]

    @property
    def is_empty(self) -> bool:
        return not (self.photos or self.waiting or self.refused or self.aside)


def gallery_of(instrument: Instrument) -> Gallery:
    return _gallery(Photo.objects.filter(instrument=instrument))


def gallery_at(task: Task) -> Gallery:
    """Only what was taken at this task."""
    return _gallery(Photo.objects.filter(at_task__task=task))


def _gallery(photos: QuerySet[Photo]) -> Gallery:
    rows = list(photos.select_related("added_by", "at_task__task__department"))
    by_state = {
        state: [photo for photo in rows if photo.state == state and not photo.hidden_at]
        for state in Photo.State
    }
    waiting = by_state[Photo.State.WAITING]
    return Gallery(
        photos=by_state[Photo.State.READY],
        pairs=pairs_among(by_state[Photo.State.READY]),
        waiting=waiting,
        refused=by_state[Photo.State.REFUSED],
        worker_is_away=bool(waiting) and not is_awake(),
        aside=[photo for photo in rows if photo.hidden_at],
    )
