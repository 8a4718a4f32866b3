"""When a piano might be promised for, once its owner has said yes."""

from __future__ import annotations

from datetime import date, timedelta
from math import ceil

from django.utils import timezone

from shopflow.offers.models import Approval, Offer


def suggested_promise(offer: Offer) -> date | None:
    """The day of the yes and the most weeks that the plan gave; None without both, or once it is promised."""
    if offer.state != Offer.State.APPROVED or offer.instrument.promised_on is not None:
        return None
    given = Approval.objects.filter(offer=offer).select_related("option").first()
    weeks = given.option.weeks_high if given else None
    if given is None or weeks is None:
        return None
    return timezone.localdate(given.at) + timedelta(days=ceil(weeks * 7))
