"""The Year, the weekly reports and having one made, as the office sees them."""

from __future__ import annotations

from datetime import UTC, date, datetime, timedelta

import pytest
from django.urls import reverse

from shopflow.common import clock, job_runs, jobs
from shopflow.common.models import Job
from shopflow.compute.calendar import IsoWeek
from shopflow.instruments.models import Instrument
from shopflow.planning.models import AnnualTarget
from shopflow.reports.models import WeeklyReport
from shopflow.reports.selectors.year import year_page
from shopflow.reports.services import make_report
from shopflow.workshop.models import Passage
from tests import cast

pytestmark = pytest.mark.django_db

HTMX = {"HX-Request": "true"}
IN_W47 = datetime(2026, 11, 17, 10, tzinfo=UTC)
IN_W48 = datetime(2026, 11, 24, 10, tzinfo=UTC)
W47, W48 = "/reports/2026-W47/", "/reports/2026-W48/"
PAGES = ["/year/", "/year/2026/", "/reports/", W47, "/reports/2026-W47.pdf"]


@pytest.fixture(autouse=True)
def still(monkeypatch):
    monkeypatch.setattr(jobs, "wake", lambda ids: True)
    with clock.at(IN_W48):
        yield


@pytest.fixture
def maud():
    cast.shop()
    return cast.manager()


@pytest.fixture
def finished(maud):
    """A piano that was finished in week 47."""
    AnnualTarget.objects.create(year=2026, instruments=53)
    with clock.at(IN_W47 - timedelta(days=20)):
        piano = cast.instrument(by=maud, maker="<b>Bexcombe</b>")
        task = cast.task(cast.operation(), on=piano, by=maud)
    with clock.at(IN_W47):
        cast.send(task, "signed", by=maud, override=True, reason="as seen")
    return piano


@pytest.fixture
def office(client, maud, finished):
    client.force_login(maud)
    return client


def run_all() -> None:
    for pk in Job.objects.filter(state=Job.State.QUEUED).values_list("pk", flat=True):
        job_runs.run(pk)


def passages(count: int, by) -> None:
    """So many instruments more, every other one finished, over the weeks of the year."""
    pianos = Instrument.objects.bulk_create(
        Instrument(number=f"X{count}-{k}", kind="grand") for k in range(count)
    )
    rows = []
    for k, piano in enumerate(pianos):
        came = datetime(2026, 1, 5, 9, tzinfo=UTC) + timedelta(days=k % 250)
        rows.append(Passage(instrument=piano, kind="arrived", on=came.date(), recorded_at=came, by=by))
        if k % 2:
            done = came + timedelta(days=60)
            rows.append(Passage(instrument=piano, kind="finished", on=done.date(), recorded_at=done, by=by))
    Passage.objects.bulk_create(rows)


@pytest.mark.parametrize("url", PAGES)
def test_a_stranger_is_refused_and_nobody_is_led_to_the_door(client, finished, url):
    assert client.get(url)["Location"].startswith(reverse("people:sign-in"))
    client.force_login(cast.stranger())
    assert client.get(url).status_code == 403


@pytest.mark.parametrize("url", PAGES)
def test_a_bench_hand_sees_neither_the_year_nor_the_reports(client, finished, url):
    client.force_login(cast.finisher())
    assert client.get(url).status_code == 403


def test_a_manager_by_pin_is_not_the_office(client, maud, finished):
    assert cast.by_pin(client, maud).get("/year/").status_code == 403


def test_the_year_shows_count_target_and_what_is_needed(office):
    said = office.get("/year/").content.decode()
    assert "<b>1</b> finished so far" in said
    assert "<b>53</b> is the target" in said
    # Tuesday of week 48: 47 weeks and two days of 53 weeks of five days.
    assert "<b>47.4</b> would be level with it today" in said
    # Five weeks are left after this one.
    assert "<b>10.4</b> needed a week from now" in said
    assert "&lt;b&gt;Bexcombe&lt;/b&gt; upright, 1904" in said
    assert "<b>Bexcombe</b>" not in said


def test_a_year_without_target_says_so_and_leads_the_owner_to_it(client, maud):
    client.force_login(cast.owner())
    said = client.get("/year/").content.decode()
    assert "No target is set for 2026" in said
    assert reverse("planning:year") in said


def test_earlier_years_can_be_chosen_and_others_are_not_there(office, maud):
    with clock.at(datetime(2028, 2, 1, 9, tzinfo=UTC)):
        said = office.get("/year/2026/").content.decode()
        assert "<b>1</b> finished" in said
        assert "needed a week from now" not in said
        for number in (2027, 2028):
            assert office.get(f"/year/{number}/").status_code == 200
    for url in ("/year/2025/", "/year/2027/", "/year/99999/"):
        assert office.get(url).status_code == 404


def test_the_year_page_counts_as_the_weekly_reports_do(maud):
    """Every year's count is the sum of its weeks, also where a year has 53 of them or begins in December."""
    passages(300, maud)
    with clock.at(datetime(2027, 3, 1, 9, tzinfo=UTC)):
        for year, last in ((2026, 53), (2027, 8)):
            weeks = IsoWeek(year, 1).until(IsoWeek(year, last))
            nets = [
                make_report(week=week, by=None).figures["finished"]["net"]
                for week in weeks
                if week >= IsoWeek(2026, 2)
            ]
            assert year_page(year, now=clock.now()).told["finished"] == sum(nets)
        both = [year_page(year, now=clock.now()).told["finished"] for year in (2026, 2027)]
    assert sum(both) == Passage.objects.filter(kind="finished").count() == 150


def test_weeks_outside_the_natural_limits_are_asked_about(maud):
    operation_days = [date(2026, 2, 2) + timedelta(days=7 * week) for week in range(20)]
    for week, day in enumerate(operation_days):
        for k in range(9 if week == 12 else 1 + week % 2):
            piano = Instrument.objects.create(number=f"S{week}-{k}", kind="grand")
            when = datetime(day.year, day.month, day.day, 9, tzinfo=UTC)
            for kind in ("arrived", "finished"):
                Passage.objects.create(instrument=piano, kind=kind, on=day, recorded_at=when, by=maud)
    with clock.at(datetime(2026, 6, 23, 9, tzinfo=UTC)):
        control = year_page(2026, now=clock.now()).control
    assert control is not None
    assert [words.split(":")[0] for words in control.signals] == ["2026-W18"]
    assert "9 is above the upper limit" in control.signals[0]


def test_a_running_week_is_shown_so_far_and_not_kept(office):
    said = office.get(W48).content.decode()
    assert "The week so far" in said
    assert "This week is not over" in said
    assert not WeeklyReport.objects.exists()
    assert office.post(f"{W48}make/").status_code == 422
    assert office.post(f"{W48}make/", headers=HTMX).status_code == 422
    assert not Job.objects.exists()


@pytest.mark.parametrize("week", ["2026-W49", "2026-W20", "2025-W53", "2026-W00", "2026-W99"])
def test_weeks_of_which_there_is_nothing_to_tell_are_not_there(office, week):
    for url in (f"/reports/{week}/", f"/reports/{week}.pdf"):
        assert office.get(url).status_code == 404
    assert office.post(f"/reports/{week}/make/").status_code == 404


def test_a_week_without_report_offers_to_make_it(office):
    said = office.get(W47).content.decode()
    assert "not made yet" in said
    assert "Make it now" in said
    assert office.get("/reports/2026-W47.pdf").status_code == 404


def test_made_on_demand_as_a_plain_form(office, maud):
    answer = office.post(f"{W47}make/")
    assert (answer.status_code, answer["Location"]) == (303, W47)
    assert "is being made" in office.get(W47).content.decode()
    run_all()
    said = office.get(W47).content.decode()
    assert "Week 47 of 2026" in said
    assert "by Maud Ferrier" in said
    assert "&lt;b&gt;Bexcombe&lt;/b&gt;" in said


def test_made_on_demand_with_progress_that_ends_by_itself(office):
    asked = office.post(f"{W47}make/", headers=HTMX)
    assert b'hx-trigger="every 1s"' in asked.content
    assert b"No worker is awake" in asked.content
    assert b'hx-trigger="every 1s"' in office.get(f"{W47}making/", headers=HTMX).content
    run_all()
    done = office.get(f"{W47}making/", headers=HTMX)
    assert done["HX-Redirect"] == W47


def test_progress_stops_asking_when_the_job_has_failed(office):
    office.post(f"{W47}make/", headers=HTMX)
    Job.objects.update(state=Job.State.FAILED, note="The disk is full.")
    answer = office.get(f"{W47}making/", headers=HTMX)
    assert answer.status_code == 286
    assert b"The disk is full." in answer.content
    assert b"every 1s" not in answer.content
    assert b"Make it now" in answer.content


def test_asked_fifty_times_from_the_page_it_is_one_job_and_one_report(office):
    for _ in range(50):
        assert office.post(f"{W47}make/").status_code == 303
    assert Job.objects.count() == 1
    run_all()
    office.post(f"{W47}make/")
    assert (Job.objects.count(), WeeklyReport.objects.count()) == (1, 1)


def test_a_report_shows_its_frozen_figures_whatever_happens_later(office, finished):
    with clock.at(IN_W48):
        make_report(week=IsoWeek(2026, 47), by=None)
    Instrument.objects.filter(pk=finished.pk).update(maker="Thistledown")
    said = office.get(W47).content.decode()
    assert "Bexcombe" in said
    assert "Thistledown" not in said


def test_the_pdf_is_served_twice_alike(office):
    make_report(week=IsoWeek(2026, 47), by=None)
    first, again = (office.get("/reports/2026-W47.pdf") for _ in range(2))
    assert first["Content-Type"] == "application/pdf"
    assert first["Content-Disposition"] == 'inline; filename="2026-W47.pdf"'
    assert first.content == again.content
    assert first.content.startswith(b"%PDF-")


def test_the_shelf_holds_every_week_with_its_report_or_without(office, maud):
    make_report(week=IsoWeek(2026, 47), by=None)
    said = office.get("/reports/").content.decode()
    assert "under way" in said
    assert "not made yet" in said
    assert reverse("reports:pdf", args=["2026-W47"]) in said


def test_an_empty_shop_has_an_empty_shelf_and_a_year(client, maud):
    client.force_login(maud)
    assert b"No week to tell of yet" in client.get("/reports/").content
    assert b"Nothing is finished yet" in client.get("/year/").content


@pytest.mark.parametrize(("url", "most"), [("/year/", 13), (W48, 27), ("/reports/", 10)])
def test_the_number_of_queries_does_not_grow_with_the_ledger(
    office, maud, django_assert_max_num_queries, url, most
):
    passages(10, maud)
    with django_assert_max_num_queries(most) as few:
        office.get(url)
    passages(1000, maud)
    with django_assert_max_num_queries(len(few)):
        assert office.get(url).status_code == 200
