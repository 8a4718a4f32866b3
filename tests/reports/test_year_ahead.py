"""What the plan said of the year is frozen into the report of the week, and of no other week."""

from __future__ import annotations

from datetime import UTC, datetime, timedelta

import pytest

from shopflow.common import clock
from shopflow.compute.calendar import IsoWeek
from shopflow.planning.models import Plan
from shopflow.reports import paper, pictures, words
from shopflow.reports.services import make_report
from tests import cast

pytestmark = pytest.mark.django_db

W47 = IsoWeek(2026, 47)
MONDAY_AT_SIX = datetime(2026, 11, 23, 6, tzinfo=UTC)
SAID = {
    "year": 2026,
    "target": 70,
    "finished": 60,
    "odds": 0.31,
    "mean": 68.4,
    "p10": 66,
    "p50": 68,
    "p90": 71,
    "weeks": [
        {"week": "2026-W48", "p10": 60, "p50": 61, "p90": 62},
        {"week": "2026-W53", "p10": 66, "p50": 68, "p90": 71},
    ],
}


@pytest.fixture
def maud():
    cast.shop()
    maud = cast.manager()
    with clock.at(datetime(2026, 11, 17, 10, tzinfo=UTC)):
        cast.instrument(by=maud)
    return maud


def a_plan(begins_at: datetime) -> Plan:
    return Plan.objects.create(state=Plan.State.PUBLISHED, begins_at=begins_at, figures={"year": SAID})


def report_made(at: datetime, maud):
    with clock.at(at):
        return make_report(week=W47, by=maud)


def test_the_report_says_the_odds_of_the_plan_of_those_days(maud):
    a_plan(MONDAY_AT_SIX - timedelta(hours=3))
    report = report_made(MONDAY_AT_SIX, maud)
    assert "odds of 70 in 2026 are 31%" in words.ahead(report.figures)
    assert "between 66 and 71" in words.ahead(report.figures)
    assert "Where the year 2026 will end" in [chart.title for chart in pictures.of_week(report.figures)]
    assert paper.pdf(report).read_bytes().startswith(b"%PDF")


def test_it_stays_as_it_was_when_another_plan_is_made(maud):
    plan = a_plan(MONDAY_AT_SIX - timedelta(hours=3))
    report = report_made(MONDAY_AT_SIX, maud)
    Plan.objects.filter(pk=plan.pk).update(figures={"year": {**SAID, "odds": 0.9}})
    report.refresh_from_db()
    assert report.figures["ahead"]["odds"] == 0.31


@pytest.mark.parametrize("begins_at", [MONDAY_AT_SIX - timedelta(days=9), MONDAY_AT_SIX + timedelta(days=8)])
def test_a_plan_of_other_days_says_nothing_of_the_week(maud, begins_at):
    a_plan(begins_at)
    report = report_made(MONDAY_AT_SIX + timedelta(days=14), maud)
    assert "ahead" not in report.figures
    assert words.ahead(report.figures) == ""
    assert pictures.of_week(report.figures)[1].title == "The year 2026"


def test_without_a_plan_the_report_is_made_all_the_same(maud):
    assert "ahead" not in report_made(MONDAY_AT_SIX, maud).figures
