"""Which photos a customer may see."""

from __future__ import annotations

import uuid
from typing import Any

from shopflow.instruments.models import Instrument
from shopflow.offers.models import ChangeOrder, Handover, Offer
from shopflow.photos.models import Photo

from .offers import told_to_owner
from .owner import of_its_owner


def chosen_photos(instrument: Instrument) -> list[Photo]:
    """Those that the shop chose for its customer, newest first."""
    return list(
        Photo.objects.filter(
            instrument=instrument, for_customer=True, state=Photo.State.READY, hidden_at=None
        ).order_by("-added_at", "-pk")
    )


def may_be_shown(key: uuid.UUID, instrument: Instrument) -> bool:
    """Chosen, or part of an offer, change order or report of this instrument that the customer was given."""
    photo = Photo.objects.filter(key=key, instrument=instrument, state=Photo.State.READY).first()
    if photo is None or photo.hidden_at is not None:
        return False
    return photo.for_customer or _stands_in_a_paper(photo, instrument)


def _stands_in_a_paper(photo: Photo, instrument: Instrument) -> bool:
    changes = ChangeOrder.objects.filter(of_its_owner(instrument)).exclude(fingerprint="")
    if changes.filter(frozen__photo=str(photo.key)).exists():
        return True
    offers = Offer.objects.filter(told_to_owner(instrument))
    if any(_shown_in(words, photo) for words in offers.values_list("frozen", flat=True)):
        return True
    given = Handover.objects.filter(of_its_owner(instrument)).exclude(handed_over_at=None)
    return any(
        str(photo.key) in (report or {})["photos"] for report in given.values_list("frozen", flat=True)
    )


def _shown_in(words: dict[str, Any] | None, photo: Photo) -> bool:
    return any(one["photo"] == str(photo.key) for one in (words or {}).get("findings", []))
