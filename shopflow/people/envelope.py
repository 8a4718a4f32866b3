"""What every tap carries besides its own fields: its key and the device's clock."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import UTC, date, datetime, timedelta

from django.http import HttpRequest
from django.utils import timezone
from django.utils.dateparse import parse_datetime

from shopflow.common import clock

from .models import Person
from .taps import LATE_AFTER, BadKey, TapIn

CLOCK_MAY_BE_OFF = timedelta(minutes=2)
# A device that claims to have kept a tap for longer has lost its clock in between.
KEPT_AT_MOST = timedelta(days=30)


class BadEnvelope(ValueError):
    """The tap cannot be read: nothing that a person at a bench did wrong. Answered with 400."""


@dataclass(frozen=True, slots=True)
class Envelope:
    """A tap as received, with what there is to say about its clock."""

    tap: TapIn
    clock_off: timedelta

    @property
    def kept_for(self) -> timedelta:
        """How long the tap stayed on its tablet, whatever that tablet believes the time to be."""
        return clock.now() - self.tap.tapped_at + self.clock_off

    @property
    def day(self) -> date:
        """The day on which it was tapped, by the shop's own clock; today where that cannot be true."""
        believable = timedelta(0) <= self.kept_for <= KEPT_AT_MOST
        return timezone.localdate(clock.now() - self.kept_for) if believable else clock.today()

    @property
    def notes(self) -> list[str]:
        """What the person at the tablet should hear besides the answer."""
        said = []
        if self.kept_for > LATE_AFTER:
            said.append(f"It was kept on this tablet for {_length(self.kept_for)} and is marked late.")
        if abs(self.clock_off) > CLOCK_MAY_BE_OFF:
            way = "ahead" if self.clock_off > timedelta(0) else "behind"
            said.append(
                f"This tablet's clock is {_length(abs(self.clock_off))} {way}; the shop's time counts."
            )
        return said


def read_envelope(request: HttpRequest, *, by: Person) -> Envelope:
    """The tap in this request, or BadEnvelope in plain words."""
    tapped_at = _moment(request, "tapped_at")
    sent_at = _moment(request, "sent_at")
    try:
        tap = TapIn.of(
            key=request.POST.get("key", ""),
            by=by,
            tablet=request.tablet,  # type: ignore[attr-defined]
            tapped_at=tapped_at,
        )
    except BadKey as bad:
        raise BadEnvelope(f"{bad} Open the page again and repeat the step.") from bad
    # A device that does not say when it sent a tap can only be caught running ahead.
    ahead = max(tap.clock_is_off_by, timedelta(0))
    return Envelope(tap=tap, clock_off=sent_at - clock.now() if sent_at else ahead)


def _moment(request: HttpRequest, field: str) -> datetime | None:
    given = request.POST.get(field, "")
    if not given:
        return None
    try:
        moment = parse_datetime(given[:40])
        if moment is None or moment.tzinfo is None:
            raise ValueError(given[:40])
        return moment.astimezone(UTC)
    except (ValueError, OverflowError) as odd:
        raise BadEnvelope("The time of this tap cannot be read. Open the page again and repeat.") from odd


def _length(span: timedelta) -> str:
    minutes = round(span.total_seconds() / 60)
    for size, word in ((365 * 1440, "year"), (1440, "day"), (60, "hour"), (1, "minute")):
        if minutes >= size:
            count = round(minutes / size)
            return f"{count} {word}" if count == 1 else f"{count} {word}s"
    return "less than a minute"
