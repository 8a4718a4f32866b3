"""Drawn photos for what stands in the house and for the last ones that left, each at its own moment."""

from __future__ import annotations

import random
from datetime import timedelta

from django.core.files.uploadedfile import SimpleUploadedFile

from shopflow.common import clock
from shopflow.instruments.models import Instrument
from shopflow.people.models import Person
from shopflow.photos.models import Photo
from shopflow.photos.services import add_photo
from shopflow.workshop.models import Passage, Task
from shopflow.workshop.services.photos import photograph_task

from .pictures import picture

LAST_GONE = 12
COMINGS = (Passage.Kind.ARRIVED, Passage.Kind.RETURNED)


def take_photos(*, rng: random.Random, by: Person) -> None:
    """Each instrument as it was found, as far as anybody still looks at it.

    The copies that pages show are made by the worker, as for any photo.
    """
    for instrument in Instrument.objects.in_the_house():
        _as_found(instrument, rng, by)
    gone = Instrument.objects.gone().order_by("-left_on")[:LAST_GONE]
    for instrument in gone:
        _as_found(instrument, rng, by)


def _as_found(instrument: Instrument, rng: random.Random, by: Person) -> None:
    comings = Passage.objects.filter(instrument=instrument, kind__in=COMINGS)
    came = comings.order_by("-pk").first()
    carried_in = came.recorded_at if came else clock.now()
    with clock.at(min(carried_in + timedelta(minutes=rng.randint(4, 40)), clock.now())):
        add_photo(
            instrument=instrument,
            file=_file(instrument, rng, words="as found", worn=True),
            role=Photo.Role.FOUND,
            caption="All round, before anything was touched",
            by=by,
        )


def photograph_finished(*, check: Task, rng: random.Random, by: Person) -> None:
    """At the final check, which is not signed without it."""
    photograph_task(
        task=check,
        file=_file(check.instrument, rng, words="finished", worn=False),
        role=Photo.Role.AFTER,
        caption="At the final check",
        by=by,
    )


def _file(instrument: Instrument, rng: random.Random, *, words: str, worn: bool) -> SimpleUploadedFile:
    drawn = picture(
        kind=instrument.kind,
        finish=instrument.finish,
        number=instrument.number,
        words=words,
        worn=worn,
        rng=rng,
    )
    return SimpleUploadedFile(f"{instrument.number}-{words.replace(' ', '-')}.jpg", drawn, "image/jpeg")
