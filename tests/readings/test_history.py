"""What a value can be held against where nobody gives a pass mark."""

from __future__ import annotations

import pytest

from shopflow.instruments.models import Survey, SurveyReading
from shopflow.readings.models import BenchSheet, Reading
from shopflow.readings.selectors.history import earlier_readings, usual_here
from tests import cast

from .sheet_cast import reading_kind, sheet_url, task_with_sheet

pytestmark = pytest.mark.django_db
HALF = "80 µm to 140 µm, half of them up to 100 µm (5 readings)"


@pytest.fixture
def maud():
    cast.shop()
    return cast.manager()


@pytest.fixture
def kind():
    return reading_kind(usual_low=None, usual_high=None)


def put(task, kind, by, *values, **given):
    sheet, _ = BenchSheet.objects.get_or_create(task=task, kind="finishing", defaults={"opened_by": by})
    for value in values:
        Reading.objects.create(
            sheet=sheet, kind=kind, typed=str(value), unit="µm", value=value, by=by, **given
        )


def test_what_was_read_on_this_instrument_at_other_work_and_at_its_survey_is_shown(client, maud, kind):
    task = task_with_sheet(by=maud)
    other = cast.task(cast.operation("rub-out", sheet="finishing"), on=task.instrument, by=maud)
    put(other, kind, maud, 90, place="lid")
    put(other, kind, maud, 999, struck_at=task.created_at, struck_by=maud, struck_reason="slip")
    survey = Survey.objects.create(instrument=task.instrument, number=1, by=maud)
    SurveyReading.objects.create(survey=survey, kind=kind, typed="40", unit="µm", value=40, by=maud)
    found = earlier_readings(task, [kind], "metric")[kind.pk]
    assert sorted((one.value, one.where) for one in found) == [("40 µm", "survey"), ("90 µm", "Rub-out")]
    client.force_login(maud)
    page = client.get(sheet_url(task)).content.decode()
    assert "Read before: " in page
    assert "No pass mark is agreed on" in page


def test_what_is_usual_here_comes_from_other_instruments_and_not_from_a_few(maud, kind):
    task = task_with_sheet(by=maud)
    put(task, kind, maud, 1, 2, 3, 4, 5, 6)
    assert usual_here(task, [kind], "metric") == {}
    other = cast.task(task.operation, on=cast.instrument(by=maud), by=maud)
    put(other, kind, maud, 80, 100, 120, 140)
    put(other, kind, maud, 9000, measured_again=True)
    assert usual_here(task, [kind], "metric") == {}
    put(other, kind, maud, 90)
    assert usual_here(task, [kind], "metric")[kind.pk] == HALF
