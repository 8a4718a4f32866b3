"""The report on paper and in the post."""

from __future__ import annotations

import re
import shutil
import subprocess
from datetime import UTC, datetime, timedelta
from email import message_from_bytes
from pathlib import Path

import pytest
from django.core import mail
from django.core.mail.backends.locmem import EmailBackend

from shopflow.catalogue.models import Shop
from shopflow.common import clock, job_runs, jobs
from shopflow.common.mail import NO_SERVER
from shopflow.common.models import Job
from shopflow.compute.calendar import IsoWeek
from shopflow.instruments.models import Instrument
from shopflow.people.models import Person
from shopflow.reports import background, paper, pictures
from shopflow.reports.models import WeeklyReport
from shopflow.reports.selectors.readers import readers
from shopflow.reports.services import mail_report, make_report
from shopflow.workshop.services import snags
from tests import cast

pytestmark = pytest.mark.django_db

W47 = IsoWeek(2026, 47)
IN_W47 = datetime(2026, 11, 17, 10, tzinfo=UTC)
IN_W48 = datetime(2026, 11, 24, 10, tzinfo=UTC)
HOSTILE = ['#import "x": *', "<script>alert(1)</script>", "{{7*7}} $x^2$ `raw` @ref", "= heading \\ *bold*"]

needs_reader = pytest.mark.skipif(not shutil.which("pdftotext"), reason="no pdftotext on this machine")


@pytest.fixture
def maud():
    cast.shop()
    return cast.manager()


@pytest.fixture
def report(maud) -> WeeklyReport:
    """A week with a finished piano and a stopped one, both with names that nobody should read as markup."""
    with clock.at(IN_W47):
        for place, name in enumerate(HOSTILE):
            piano = cast.instrument(by=maud, maker=name)
            task = cast.task(cast.operation(f"op-{place}"), on=piano, by=maud)
            if place == 0:
                cast.send(task, "signed", by=maud, override=True, reason="as seen")
        snags.raise_snag(
            task=task,
            cause="part",
            reason=HOSTILE[1],
            ask_again_on=clock.today(),
            by=maud,
            owner_outside="#eval(1)",
        )
    with clock.at(IN_W48):
        return make_report(week=W47, by=None)


@pytest.fixture(autouse=True)
def nobody_is_woken(monkeypatch):
    monkeypatch.setattr(jobs, "wake", lambda ids: True)


def text_of(file: Path) -> str:
    read = subprocess.run(["pdftotext", file, "-"], capture_output=True, check=True, text=True)
    return read.stdout


def pages_of(file: Path) -> int:
    return len(re.findall(rb"/Type\s*/Page\b", file.read_bytes()))


def test_the_report_is_a_pdf_kept_in_the_data_folder(report):
    file = paper.pdf(report)
    assert file.read_bytes().startswith(b"%PDF-")
    assert file.stat().st_mode & 0o777 <= 0o644
    assert pages_of(file) == 2


def test_made_twice_it_is_the_same_file(report):
    first = paper.pdf(report)
    made = first.stat().st_mtime_ns
    assert paper.pdf(report) == first
    assert first.stat().st_mtime_ns == made
    data = first.read_bytes()
    first.unlink()
    assert paper.pdf(report).read_bytes() == data


@needs_reader
def test_names_that_look_like_markup_are_printed_as_they_stand(report):
    said = run_together(text_of(paper.pdf(report)))
    for name in [f"{HOSTILE[0]} upright, 1904", *HOSTILE[1:], "#eval(1)"]:
        assert run_together(name) in said


def run_together(text: str) -> str:
    """Without spaces and the invisible places at which a long word may be broken."""
    return re.sub("[\\s\u200b]", "", text)


@needs_reader
def test_the_paper_tells_the_figures_of_the_page(report):
    said = text_of(paper.pdf(report))
    assert "Quillmere Piano Works" in said
    assert "Week 47 of 2026" in said
    assert "Monday 16 to Sunday 22 November 2026" in said
    assert "page 1 of 2" in said
    for chart in pictures.of_week(report.figures):
        assert chart.title in said


@needs_reader
def test_a_very_long_name_stays_on_the_paper(report):
    Instrument.objects.filter(maker=HOSTILE[0]).update(maker="W" * 60)
    WeeklyReport.objects.all().delete()
    with clock.at(IN_W48):
        again = make_report(week=W47, by=None)
    box = subprocess.run(
        ["pdftotext", "-bbox", paper.pdf(again), "-"], capture_output=True, check=True, text=True
    ).stdout
    right_edges = [float(edge) for edge in re.findall(r'xMax="([\d.]+)"', box)]
    assert max(right_edges) < 595 - 40


def test_an_empty_week_is_a_report_too(maud):
    with clock.at(IN_W47 - timedelta(days=7)):
        cast.instrument(by=maud)
    with clock.at(IN_W48):
        file = paper.pdf(make_report(week=W47, by=None))
    assert pages_of(file) >= 1


def test_the_readers_are_those_the_shop_names_else_owners_and_managers(maud):
    for person, address in ((maud, "maud@quillmere.example"), (cast.finisher(), "finn@quillmere.example")):
        Person.objects.filter(pk=person.pk).update(email=address)
    assert readers() == ["maud@quillmere.example"]
    Shop.objects.update(report_readers="a@quillmere.example\n\n not an address\n a@quillmere.example ")
    assert readers() == ["a@quillmere.example"]


def test_a_report_is_mailed_once_with_its_pdf(report):
    Shop.objects.update(report_readers="ottilie@quillmere.example")
    assert mail_report(report=report)
    assert not mail_report(report=report)
    assert not mail_report(report=WeeklyReport.objects.get())
    (sent,) = mail.outbox
    assert sent.subject == "Quillmere Piano Works: week 47 of 2026, 1 finished"
    assert "<script>alert(1)</script>" in sent.body
    parts = {part.get_content_type(): part for part in message_from_bytes(sent.message().as_bytes()).walk()}
    assert parts["application/pdf"].get_filename() == "2026-W47.pdf"
    assert parts["application/pdf"].get_payload(decode=True).startswith(b"%PDF-")


def test_a_shops_name_cannot_write_headers_of_its_own(report):
    Shop.objects.update(report_readers="ottilie@quillmere.example")
    report.figures["shop"]["name"] = "Quillmere\r\nBcc: everybody@quillmere.example"
    mail_report(report=report)
    assert mail.outbox[0].message()["Bcc"] is None


def run_all() -> None:
    for pk in Job.objects.filter(state=Job.State.QUEUED).values_list("pk", flat=True):
        job_runs.run(pk)


def test_the_clock_makes_and_mails_the_last_week_and_no_older_one(maud):
    Shop.objects.update(report_readers="ottilie@quillmere.example")
    with clock.at(IN_W47 - timedelta(days=14)):
        cast.instrument(by=maud)
    for minutes in (0, 15, 30):
        with clock.at(IN_W48 + timedelta(minutes=minutes)):
            background.look()
            run_all()
    assert WeeklyReport.objects.count() == 3
    assert [letter.subject.split(",")[0] for letter in mail.outbox] == [
        "Quillmere Piano Works: week 47 of 2026"
    ]


def test_a_mail_server_that_is_away_costs_no_report_and_is_asked_again_within_the_hour(maud, monkeypatch):
    Shop.objects.update(report_readers="ottilie@quillmere.example")
    with clock.at(IN_W47):
        cast.instrument(by=maud)
    with monkeypatch.context() as away:
        away.setattr(EmailBackend, "send_messages", lambda *_: (_ for _ in ()).throw(ConnectionError("away")))
        for minutes in (0, 15, 30):
            with clock.at(IN_W48 + timedelta(minutes=minutes)):
                background.look()
                run_all()
    assert "made and kept, but it could not be mailed" in Job.objects.get().note
    assert WeeklyReport.objects.get().mailed_at is None
    for minutes in (60, 75):
        with clock.at(IN_W48 + timedelta(minutes=minutes)):
            background.look()
            run_all()
    assert len(mail.outbox) == 1
    assert WeeklyReport.objects.get().mailed_at is not None


def test_without_a_mail_server_no_report_is_called_mailed_until_one_is_named(maud, settings, client):
    there_is_one, settings.EMAIL_BACKEND = settings.EMAIL_BACKEND, NO_SERVER
    Shop.objects.update(report_readers="ottilie@quillmere.example")
    with clock.at(IN_W47):
        cast.instrument(by=maud)
    with clock.at(IN_W48):
        background.look()
        run_all()
    assert WeeklyReport.objects.get().mailed_at is None
    client.force_login(maud)
    assert "Not mailed: no mail server is named" in client.get("/reports/2026-W47/").content.decode()
    settings.EMAIL_BACKEND = there_is_one
    with clock.at(IN_W48 + timedelta(minutes=15)):
        background.look()
        run_all()
    assert len(mail.outbox) == 1
    assert WeeklyReport.objects.get().mailed_at is not None


def test_a_shop_without_readers_mails_nothing_and_does_not_try(report):
    with clock.at(IN_W48):
        background.look()
    assert not Job.objects.exists()
