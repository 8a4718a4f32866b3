"""One report for each finished week, whoever asks for it and however often."""

from __future__ import annotations

from datetime import UTC, datetime, timedelta
from zoneinfo import ZoneInfo

import pytest
from django.core.exceptions import PermissionDenied
from django.db import IntegrityError, transaction

from shopflow.catalogue.models import Shop
from shopflow.common import clock, job_runs, jobs
from shopflow.common.models import Job
from shopflow.common.refusals import Refused
from shopflow.compute.calendar import IsoWeek
from shopflow.reports import background, words
from shopflow.reports.models import WeeklyReport
from shopflow.reports.selectors import due
from shopflow.reports.selectors.week import week_figures
from shopflow.reports.services import make_report
from tests import cast
from tests.common.practice import all_at_once

pytestmark = [pytest.mark.django_db, pytest.mark.data_layer]

LONDON = ZoneInfo("Europe/London")
W46, W47, W48 = (IsoWeek(2026, week) for week in (46, 47, 48))
IN_W46 = datetime(2026, 11, 10, 10, tzinfo=UTC)
IN_W48 = datetime(2026, 11, 24, 10, tzinfo=UTC)


@pytest.fixture
def maud():
    cast.shop()
    return cast.manager()


@pytest.fixture
def begun(maud):
    """A shop whose ledger begins in week 46."""
    with clock.at(IN_W46):
        cast.instrument(by=maud)


@pytest.fixture(autouse=True)
def nobody_is_woken(monkeypatch):
    monkeypatch.setattr(jobs, "wake", lambda ids: True)


def run_all() -> None:
    for pk in Job.objects.filter(state=Job.State.QUEUED).values_list("pk", flat=True):
        job_runs.run(pk)


def test_a_stranger_and_a_bench_hand_have_no_report_made(begun):
    for person in (cast.stranger(), cast.finisher()):
        with clock.at(IN_W48), pytest.raises(PermissionDenied):
            make_report(week=W47, by=person)
    assert not WeeklyReport.objects.exists()


def test_the_same_week_twice_gives_one_report_with_its_first_figures(begun, maud):
    with clock.at(IN_W48):
        first = make_report(week=W47, by=maud)
        again = make_report(week=W47, by=None)
    assert first.pk == again.pk
    assert again.made_by == "Maud Ferrier"
    assert first.figures == week_figures(W47)
    assert WeeklyReport.objects.count() == 1


def test_the_database_itself_refuses_a_second_report(begun):
    with clock.at(IN_W48):
        report = make_report(week=W47, by=None)
    with pytest.raises(IntegrityError), transaction.atomic():
        WeeklyReport.objects.create(year=2026, week=47, figures=report.figures)


@pytest.mark.django_db(transaction=True)
def test_several_makers_at_once_give_one_report(begun):
    def make():
        with clock.at(IN_W48):
            return make_report(week=W47, by=None).pk

    answers = all_at_once(make, hands=4)
    assert answers == [WeeklyReport.objects.get().pk] * 4


def test_a_maker_who_finds_out_too_late_hands_over_the_other_ones_report(begun, monkeypatch):
    with clock.at(IN_W48):
        first = make_report(week=W47, by=None)
        looks = iter([None])
        monkeypatch.setattr(due, "report_of", lambda week: next(looks))
        assert make_report(week=W47, by=None).pk == first.pk


@pytest.mark.parametrize("now", [IN_W48, datetime(2026, 11, 29, 23, 59, tzinfo=UTC)])
def test_a_week_that_is_not_over_is_refused_in_words(begun, maud, now):
    with clock.at(now), pytest.raises(Refused, match="2026-W48 is not over: it ends with Sunday 29 Nov 2026"):
        make_report(week=W48, by=maud)


def test_a_week_before_the_ledger_begins_is_refused_in_words(begun, maud):
    with clock.at(IN_W48), pytest.raises(Refused, match="the ledger begins in 2026-W46"):
        make_report(week=W46.previous(), by=maud)


def test_an_empty_ledger_wants_no_report(maud):
    assert due.weeks_due(now=IN_W48, zone=LONDON) == []
    with clock.at(IN_W48), pytest.raises(Refused, match="the ledger is empty"):
        make_report(week=W47, by=maud)


@pytest.mark.parametrize(
    ("zone", "now", "last"),
    [
        ("Europe/London", datetime(2026, 11, 23, 5, 59, tzinfo=UTC), W46),
        ("Europe/London", datetime(2026, 11, 23, 6, 0, tzinfo=UTC), W47),
        ("Europe/London", datetime(2026, 11, 29, 23, 59, tzinfo=UTC), W47),
        ("America/New_York", datetime(2026, 11, 23, 10, 59, tzinfo=UTC), W46),
        ("America/New_York", datetime(2026, 11, 23, 11, 0, tzinfo=UTC), W47),
        # The Monday after the clocks went back, and the one after they went forward.
        ("Europe/London", datetime(2026, 10, 26, 5, 59, tzinfo=UTC), IsoWeek(2026, 42)),
        ("Europe/London", datetime(2026, 10, 26, 6, 0, tzinfo=UTC), IsoWeek(2026, 43)),
        ("Europe/London", datetime(2026, 3, 30, 4, 59, tzinfo=UTC), IsoWeek(2026, 12)),
        ("Europe/London", datetime(2026, 3, 30, 5, 0, tzinfo=UTC), IsoWeek(2026, 13)),
    ],
)
def test_a_report_is_due_on_monday_at_six_by_the_shops_own_clock(zone, now, last):
    assert due.last_due(now=now, zone=ZoneInfo(zone)) == last


def test_a_machine_that_was_off_makes_up_for_every_week_it_missed(begun):
    with clock.at(IN_W48):
        background.look()
        run_all()
    assert [str(report) for report in WeeklyReport.objects.order_by("week")] == ["2026-W46", "2026-W47"]
    assert Job.objects.get().state == Job.State.DONE


def test_two_clocks_a_clock_put_right_and_a_moved_shop_still_give_one_report_a_week(begun):
    monday = datetime(2026, 11, 23, 6, tzinfo=UTC)
    for minutes in (-60, 0, 0, 60, -60, 15, 30):
        with clock.at(monday + timedelta(minutes=minutes)):
            background.look()
            background.look()
            run_all()
        Shop.objects.update(time_zone="America/New_York" if minutes == 60 else "Europe/London")
    assert sorted(map(str, WeeklyReport.objects.all())) == ["2026-W46", "2026-W47"]


def test_asked_fifty_times_it_is_one_job(begun, maud):
    with clock.at(IN_W48):
        asked = {background.ask_for(week=W47, by=maud).pk for _ in range(50)}
        run_all()
    assert len(asked) == Job.objects.count() == WeeklyReport.objects.count() == 1


def test_a_job_for_a_week_that_is_not_over_fails_in_words(begun, maud):
    with clock.at(IN_W48):
        job = jobs.enqueue(background.KIND, weeks=["2026-W48"], asked_by=maud.pk)
        run_all()
    job.refresh_from_db()
    assert job.state == Job.State.FAILED
    assert job.note.startswith("2026-W48 is not over")


def test_the_week_is_told_in_sentences(begun, maud):
    with clock.at(IN_W48):
        report = make_report(week=W46, by=maud)
    said = words.summary(report.figures)
    assert said[0] == "0 finished."
    assert said[1] == "0 finished in 2026; no target is set for that year."
    assert said[2].startswith("1 arrived and 0 left the house; 1 is here")
    assert words.subject(report.figures) == "Quillmere Piano Works: week 46 of 2026, 0 finished"
