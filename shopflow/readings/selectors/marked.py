"""Cracks and ribs that are numbered on the photos of an instrument."""

from __future__ import annotations

from dataclasses import dataclass

from shopflow.instruments.models import Instrument
from shopflow.photos.models import Photo, PhotoMark


@dataclass(frozen=True, slots=True)
class MarkedPhoto:
    photo: Photo
    marks: list[PhotoMark]


def marked_photos(instrument: Instrument) -> list[MarkedPhoto]:
    """Each photo with its cracks and ribs, the first marked one first. One query."""
    marks = PhotoMark.objects.filter(
        photo__instrument=instrument,
        kind__in=[PhotoMark.Kind.CRACK, PhotoMark.Kind.RIB],
        struck_at=None,
        photo__hidden_at=None,
    )
    by_photo: dict[int, MarkedPhoto] = {}
    for mark in marks.select_related("photo").order_by("photo_id", "number"):
        by_photo.setdefault(mark.photo_id, MarkedPhoto(mark.photo, [])).marks.append(mark)
    return list(by_photo.values())
