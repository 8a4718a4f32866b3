"""The clock that can be held still."""

from __future__ import annotations

from datetime import UTC, datetime, timedelta
from zoneinfo import ZoneInfo

from shopflow.common import clock


def test_hours_added_to_a_held_clock_are_hours_also_when_summer_time_ends():
    before = datetime(2026, 10, 24, 12, tzinfo=ZoneInfo("Europe/London"))
    with clock.at(before):
        assert clock.now() == before
        assert clock.now() + timedelta(hours=24) == datetime(2026, 10, 25, 11, tzinfo=UTC)
