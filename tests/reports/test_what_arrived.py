"""What came into the house in a week, and what was only written down in it."""

from __future__ import annotations

from datetime import UTC, date, datetime

import pytest

from shopflow.common import clock
from shopflow.compute.calendar import IsoWeek
from shopflow.reports.selectors.week import week_figures
from tests import cast

pytestmark = pytest.mark.django_db

TUESDAY = datetime(2026, 11, 17, 10, tzinfo=UTC)


def test_a_piano_written_down_long_after_it_came_is_no_arrival_of_that_week():
    cast.shop()
    maud = cast.manager()
    with clock.at(TUESDAY):
        cast.instrument(by=maud, number="201", arrived=date(2024, 3, 5))
        cast.instrument(by=maud, number="202", arrived=date(2026, 11, 12))
        cast.instrument(by=maud, number="203")
    figures = week_figures(IsoWeek(2026, 47))
    assert [row["number"] for row in figures["arrived"]] == ["202", "203"]
    assert figures["in_hand"]["in_house"] == 3
