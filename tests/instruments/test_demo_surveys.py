"""The surveys of the demo: at every point of the way, on pianos of the right build, true to the library."""

from __future__ import annotations

import random
from datetime import timedelta
from zoneinfo import ZoneInfo

import pytest

from shopflow.catalogue.services.trade import load_trade
from shopflow.common import clock
from shopflow.demo.surveys import survey_pianos
from shopflow.instruments.models import Instrument, Survey
from shopflow.instruments.selectors import current_findings
from shopflow.photos.models import Photo
from tests import cast

pytestmark = pytest.mark.django_db


@pytest.fixture
def surveyed():
    cast.shop()
    load_trade()
    maud = cast.manager()
    for number, kind in enumerate(["upright", "grand"] * 9):
        arrived = clock.today() - timedelta(days=60 - number)
        cast.instrument(by=maud, kind=kind, arrived=arrived)
    survey_pianos(rng=random.Random(1), zone=ZoneInfo("Europe/London"), by=maud)


def test_there_are_pianos_at_every_point_of_a_survey(surveyed):
    surveys = list(Survey.objects.all())
    assert Instrument.objects.filter(surveys=None).count() == 6
    assert sum(one.finished_at is None and one.number == 1 for one in surveys) == 2
    assert {one.finished_at is None for one in surveys if one.number == 2} == {True, False}
    finished = [one.instrument for one in surveys if one.finished_at and one.number == 1]
    counts = sorted(len(current_findings(piano)) for piano in finished)
    assert counts[0] >= 6
    assert counts[-1] >= 25


def test_some_findings_have_their_photo_and_one_piano_is_past_saving(surveyed):
    assert Photo.objects.exclude(finding=None).count() >= 10
    gravest = max(
        sum(one.severity == 4 for one in current_findings(piano)) for piano in Instrument.objects.all()
    )
    assert gravest >= 4


def test_nothing_was_written_down_in_the_future(surveyed):
    for survey in Survey.objects.all():
        assert survey.began_at <= clock.now()
        assert survey.finished_at is None or survey.began_at <= survey.finished_at <= clock.now()
