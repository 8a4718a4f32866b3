"""Which private links an instrument has, and which of them still open something."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import datetime

from shopflow.common import clock
from shopflow.customers.models import PrivateLink
from shopflow.instruments.models import Instrument


@dataclass(frozen=True, slots=True)
class LinkLine:
    link: PrivateLink
    is_live: bool
    last_opened_at: datetime | None


def links_of(instrument: Instrument) -> list[LinkLine]:
    """The newest first, the closed ones after the open ones. One query."""
    rows = PrivateLink.objects.filter(instrument=instrument).select_related(
        "instrument", "made_by", "revoked_by", "visit"
    )
    now = clock.now()
    lines = [LinkLine(link, link.is_live(now), _opened(link)) for link in rows]
    return sorted(lines, key=lambda line: not line.is_live)


def _opened(link: PrivateLink) -> datetime | None:
    visit = getattr(link, "visit", None)
    return visit.last_at if visit else None
