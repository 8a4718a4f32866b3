"""Which photos belong together."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from ..models import Photo


@dataclass(frozen=True, slots=True)
class Pair:
    """The same thing before and after."""

    before: Photo
    after: Photo


def pairs_among(photos: Sequence[Photo]) -> list[Pair]:
    """Before and after side by side: the same caption if there is one, else the first and the last."""
    before = [photo for photo in photos if photo.role in {Photo.Role.BEFORE, Photo.Role.FOUND}]
    after = [photo for photo in photos if photo.role == Photo.Role.AFTER]
    captioned = [
        Pair(earlier, later)
        for earlier in before
        for later in after
        if earlier.caption and earlier.caption.casefold() == later.caption.casefold()
    ]
    if captioned or not before or not after:
        return captioned
    return [Pair(before[0], after[-1])]
