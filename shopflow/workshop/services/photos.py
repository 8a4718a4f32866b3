"""Photos taken at a task: evidence of its work."""

from __future__ import annotations

import uuid

from django.core.files import File
from django.db import transaction

from shopflow.common import pulse
from shopflow.common.refusals import Refused
from shopflow.people.models import Person
from shopflow.photos.models import Photo
from shopflow.photos.services import add_photo
from shopflow.workshop.models import Task, TaskPhoto


@transaction.atomic
def photograph_task(
    *, task: Task, file: File[bytes], role: str, caption: str, by: Person, batch: uuid.UUID | None = None
) -> Photo:
    """Take in a photo of an instrument and tie it to the task at which it was taken."""
    if task.dropped_at is not None:
        raise Refused(f"{task} was dropped: {task.dropped_reason}")
    photo = add_photo(instrument=task.instrument, file=file, role=role, caption=caption, by=by, batch=batch)
    TaskPhoto.objects.get_or_create(photo=photo, defaults={"task": task})
    pulse.bump()
    return photo
