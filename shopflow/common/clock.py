"""The one place that says what time it is, so that a played shop and the tests can move the hands."""

from __future__ import annotations

from collections.abc import Iterator
from contextlib import contextmanager
from contextvars import ContextVar
from datetime import UTC, date, datetime

from django.utils import timezone

_hands: ContextVar[datetime | None] = ContextVar("_hands", default=None)


def now() -> datetime:
    """The server's time, unless `at` holds it still; in UTC, so that hours added are hours."""
    return _hands.get() or timezone.now()


def today() -> date:
    """Today in the time zone that is active (the shop's own)."""
    return timezone.localdate(now())


@contextmanager
def at(moment: datetime) -> Iterator[None]:
    """Hold the clock at an aware moment for everything inside the block."""
    token = _hands.set(moment.astimezone(UTC))
    try:
        yield
    finally:
        _hands.reset(token)
