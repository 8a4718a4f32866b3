"""Putting a photo aside: it stays on record with the reason, and is shown nowhere but on its own page."""

from __future__ import annotations

from django.db import transaction

from shopflow.common import clock, pulse
from shopflow.common.refusals import Refused
from shopflow.people import access
from shopflow.people.access import Deed, NotAllowed
from shopflow.people.models import Person

from ..models import Photo
from .taking import may_change


@transaction.atomic
def put_aside(*, photo: Photo, reason: str, by: Person) -> Photo:
    """Show a photo no longer. Who took it may, and the office. Twice keeps the first reason."""
    photo = _locked(photo, by)
    if photo.hidden_at is not None:
        return photo
    if not reason:
        raise Refused("Say why it is put aside; the reason is kept.", field="reason")
    photo.hidden_at, photo.hidden_by, photo.hidden_reason = clock.now(), by, reason
    photo.for_customer = False
    return _save(photo)


@transaction.atomic
def bring_back(*, photo: Photo, by: Person) -> Photo:
    """Show a photo again; the customer sees it only when it is chosen anew."""
    photo = _locked(photo, by)
    photo.hidden_at = photo.hidden_by = None
    photo.hidden_reason = ""
    return _save(photo)


def _locked(photo: Photo, by: Person) -> Photo:
    access.require(by, Deed.PHOTO)
    if not may_change(photo, by):
        raise NotAllowed(by, Deed.INSTRUMENTS)
    locked: Photo = Photo.objects.select_for_update(of=("self",)).get(pk=photo.pk)
    return locked


def _save(photo: Photo) -> Photo:
    photo.save(update_fields=["hidden_at", "hidden_by", "hidden_reason", "for_customer"])
    # A stage that asked for a photo may ask for it again.
    pulse.bump()
    return photo
