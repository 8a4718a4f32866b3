"""Where photos lie: what was sent waits in a private folder, what is shown are the shop's own copies."""

from __future__ import annotations

import os
from pathlib import Path
from uuid import UUID

from django.conf import settings
from django.core.files import File

SIDES = (1600, 400)


def waiting(key: UUID) -> Path:
    """The file as it was sent; never served, and gone once its copies are made."""
    return _folder("waiting") / key.hex


def copy(key: UUID, side: int) -> Path:
    """A copy of ours, at most `side` pixels long; in folders of a few hundred files each."""
    return _folder(str(side), key.hex[:2]) / f"{key.hex}.jpg"


def keep_waiting(file: File[bytes], key: UUID) -> None:
    """Write what was sent to the disk and have it there before anyone is told that it was received."""
    path = waiting(key)
    with path.open("wb") as kept:
        path.chmod(0o600)
        for chunk in file.chunks():
            kept.write(chunk)
        kept.flush()
        os.fsync(kept.fileno())


def _folder(*names: str) -> Path:
    folder = Path(settings.MEDIA_ROOT).joinpath(*names)
    folder.mkdir(parents=True, exist_ok=True, mode=0o700)
    return folder
