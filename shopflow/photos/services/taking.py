"""Deeds with photos: take one in, make the copies that are shown, say better what it shows."""

from __future__ import annotations

import hashlib
import json
import logging
import subprocess
import sys
import uuid
from pathlib import Path
from typing import Any

from django.conf import settings
from django.core.files import File
from django.db import IntegrityError, transaction

from shopflow.common import clock, jobs
from shopflow.common.text import clean, on_one_line
from shopflow.instruments.models import Finding, Instrument
from shopflow.people import access, edits
from shopflow.people.access import Deed, NotAllowed
from shopflow.people.models import Person

from .. import decode, files, upload
from ..models import Photo
from ..refusal import PhotoRefused

Said = dict[str, Any]
log = logging.getLogger(__name__)

# Wall-clock time; the process itself may use only five seconds of the processor.
PATIENCE_S = 60
TOOK_TOO_LONG = "This photo took too long to open. Take it again, as a smaller JPEG."


def add_photo(
    *,
    instrument: Instrument,
    file: File[bytes],
    role: str,
    caption: str,
    by: Person,
    batch: uuid.UUID | None = None,
    finding: Finding | None = None,
) -> Photo:
    """Take in a photo of an instrument, or of one finding of it; its copies are made in the background.

    The same file in the same `batch` is the same photo sent again: it is kept once.
    Raises PhotoRefused for whatever is no photo that can be opened.
    """
    access.require(by, Deed.PHOTO)
    key = _key_of(batch, instrument, by, file) if batch else uuid.uuid4()
    there = Photo.objects.filter(key=key).first()
    if there is not None:
        return there
    upload.check(file)
    photo = Photo(
        instrument=instrument,
        finding=finding,
        role=role,
        caption=caption,
        added_by=by,
        added_at=clock.now(),
        original_name=_as_shown(file.name),
        key=key,
    )
    photo.full_clean(validate_unique=False)
    _keep(file, key)
    try:
        with transaction.atomic():
            photo.save()
            jobs.enqueue("photo-copies", by=by, unique=key.hex, photo_id=photo.pk)
    except IntegrityError:
        # Sent twice at once, and the other one was quicker.
        return Photo.objects.get(key=key)
    return photo


def make_copies(photo: Photo) -> Photo:
    """Draw the copies that are shown, in a process of their own; safe to do twice.

    A photo that cannot be drawn is refused with its reason, and the file that was sent goes away either way.
    """
    sent = files.waiting(photo.key)
    if photo.state == Photo.State.WAITING:
        said = _drawn(sent, photo.key) if sent.exists() else {"refused": decode.INCOMPLETE}
        _write_down(photo, said)
    sent.unlink(missing_ok=True)
    return photo


@transaction.atomic
def change_photo(*, photo: Photo, role: str, caption: str, seen: str, by: Person) -> Photo:
    """Say better what a photo shows: whoever added it may, and the office."""
    access.require(by, Deed.PHOTO)
    photo = Photo.objects.select_for_update(of=("self",)).get(pk=photo.pk)
    if not may_change(photo, by):
        raise NotAllowed(by, Deed.INSTRUMENTS)
    wanted = {"role": role, "caption": caption}
    edits.refuse_stale(now=facts_of(photo), wanted=wanted, seen=seen)
    photo.role, photo.caption = role, caption
    photo.full_clean()
    photo.save(update_fields=["role", "caption"])
    return photo


@transaction.atomic
def choose_for_customer(*, photo: Photo, chosen: bool, by: Person) -> None:
    """Show a photo on the page of its instrument's owner, or no longer; the office chooses, nobody else."""
    access.require(by, Deed.SEE_CUSTOMER)
    Photo.objects.filter(pk=photo.pk).update(for_customer=chosen)


def _keep(file: File[bytes], key: uuid.UUID) -> None:
    try:
        files.keep_waiting(file, key)
    except OSError as trouble:
        files.waiting(key).unlink(missing_ok=True)
        log.error("a photo could not be kept: %s", trouble)
        raise PhotoRefused(
            f"The shop’s computer could not keep this photo ({trouble.strerror})."
            " Keep it on your device and tell a manager."
        ) from trouble


def _key_of(batch: uuid.UUID, instrument: Instrument, by: Person, file: File[bytes]) -> uuid.UUID:
    digest = hashlib.sha256()
    for chunk in file.chunks():
        digest.update(chunk)
    file.seek(0)
    return uuid.uuid5(batch, f"{instrument.pk} {by.pk} {digest.hexdigest()}")


def may_change(photo: Photo, by: Person) -> bool:
    return photo.added_by_id == by.pk or access.may(by, Deed.INSTRUMENTS)


def facts_of(photo: Photo) -> dict[str, str]:
    return {"role": photo.role, "caption": photo.caption}


def _as_shown(name: str | None) -> str:
    """The name the device gave it: shown as text, never used as the name of a file."""
    return on_one_line(clean(name or ""))[:255]


def _drawn(sent: Path, key: uuid.UUID) -> Said:
    """Run the drawing and put its copies in place; what it says is its whole effect."""
    ready = {side: files.copy(key, side) for side in files.SIDES}
    fresh = {side: path.with_suffix(f".{uuid.uuid4().hex}") for side, path in ready.items()}
    try:
        said = _run(sent, fresh)
        if "refused" not in said:
            for side, path in fresh.items():
                path.replace(ready[side])
        return said
    finally:
        for path in fresh.values():
            path.unlink(missing_ok=True)


def _run(sent: Path, targets: dict[int, Path]) -> Said:
    command = [sys.executable, "-I", decode.__file__, str(sent), str(settings.PHOTO_MAX_PIXELS)]
    command += [f"{path}={side}" for side, path in targets.items()]
    try:
        ended = subprocess.run(command, capture_output=True, text=True, timeout=PATIENCE_S, check=False)
        return dict(json.loads(ended.stdout))
    except subprocess.TimeoutExpired:
        return {"refused": TOOK_TOO_LONG}
    except ValueError:
        # It was stopped before it could say anything: its five seconds were over, or it fell over.
        log.warning("photo %s: the drawing ended with %s", sent.name, ended.returncode)
        return {"refused": TOOK_TOO_LONG if ended.returncode < 0 else decode.UNREADABLE}


def _write_down(photo: Photo, said: Said) -> None:
    refused = str(said.get("refused", ""))
    photo.state = Photo.State.REFUSED if refused else Photo.State.READY
    photo.refusal = refused[:200]
    photo.width, photo.height = int(said.get("width", 0)), int(said.get("height", 0))
    photo.save(update_fields=["state", "refusal", "width", "height"])
