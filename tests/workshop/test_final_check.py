"""The final check rests on what is there; else tick and signature are refused, saying where to give it."""

from __future__ import annotations

from datetime import timedelta
from typing import Any

import pytest
from django.test import Client

from shopflow.catalogue.models import Operation, ReadingKind
from shopflow.common import clock
from shopflow.instruments.models import Instrument, Survey, SurveyReading
from shopflow.instruments.services import crates
from shopflow.people.access import NotAllowed
from shopflow.people.models import Person
from shopflow.photos.models import Photo
from shopflow.readings.models import BenchSheet, Phase, Reading
from shopflow.readings.selectors.which import kinds_for
from shopflow.workshop.models import Move, Task
from shopflow.workshop.services import passages
from shopflow.workshop.services.final_check import lacking
from tests import cast

pytestmark = pytest.mark.django_db
PROVES = {"leaves": {"leave": "proven"}}
TUNED = {"leaves": {"tuning": "tuned"}}


@pytest.fixture
def maud() -> Person:
    cast.shop()
    cast.line("leave", "in work", "proven", found="in work", goal="in work")
    cast.line("tuning", "raw", "tuned", found="raw", goal="raw")
    cast.line("finish", "bare", "built", "rubbed", "whole")
    cast.line("sample", "none", "signed", found="none", goal="none")
    return cast.manager()


@pytest.fixture
def piano(maud: Person) -> Instrument:
    return cast.instrument(by=maud, number="214")


@pytest.fixture
def check(maud: Person, piano: Instrument) -> Task:
    operation = cast.operation("final-check", at=cast.department("final"), state=PROVES)
    task = cast.task(operation, on=piano, by=maud)
    cast.walk(task, by=maud, until="proving")
    return task


def done(code: str, *, on: Instrument, by: Person, **given: Any) -> Task:
    """Work of this kind, signed."""
    operation = Operation.objects.filter(code=code).first() or cast.operation(code, **given)
    task = cast.task(operation, on=on, by=by)
    cast.walk(task, by=by)
    return task


def sign(check: Task, *, by: Person, **given: Any) -> str:
    """What it was refused with; empty where it was signed."""
    answer = cast.send(check, "signed", by=by, **given)
    return "" if answer.status == 200 else str(answer.said["refused"])


def lines(piano: Instrument) -> list[str]:
    return [one.line for one in lacking(piano)]


def read_before(piano: Instrument, code: str, *, by: Person) -> ReadingKind:
    kind, _ = ReadingKind.objects.get_or_create(code=code, defaults={"name": code.replace("-", " ")})
    survey, _ = Survey.objects.get_or_create(instrument=piano, number=1, defaults={"by": by})
    SurveyReading.objects.create(survey=survey, kind=kind, typed="3", value=3, by=by)
    return kind


def read_after(task: Task, kind: ReadingKind, *, by: Person, phase: str = Phase.AFTER) -> Reading:
    sheet, _ = BenchSheet.objects.get_or_create(task=task, kind="strings", defaults={"opened_by": by})
    return Reading.objects.create(sheet=sheet, kind=kind, phase=phase, typed="1", value=1, by=by)


# --- who ---


def test_a_stranger_signs_nothing_and_a_hand_goes_past_nothing(check):
    finn = cast.person("Finn Tarrow", home=check.department)
    stranger = cast.stranger()
    for by in (stranger, finn):
        with pytest.raises(NotAllowed):
            sign(check, by=by, override=True, reason="in a hurry")
    check.refresh_from_db()
    assert check.stage.code == "proving"


# --- each demand ---


def test_photos_of_after_are_asked_of_every_piano(check, piano, maud):
    said = sign(check, by=maud)
    assert said == "No photo of after the work: take one under “Photos” and call it “after”."
    cast.photo_after(piano, by=maud)
    assert sign(check, by=maud) == ""


@pytest.mark.parametrize(
    "spoilt", [{"state": Photo.State.REFUSED}, {"hidden_at": clock.now()}, {"role": "found"}]
)
def test_a_photo_that_shows_nothing_of_after_proves_nothing(check, piano, maud, spoilt):
    photo = cast.photo_after(piano, by=maud)
    Photo.objects.filter(pk=photo.pk).update(**spoilt)
    assert lines(piano) == ["photos"]


def test_a_photo_of_an_earlier_stay_proves_nothing(check, piano, maud):
    cast.photo_after(piano, by=maud)
    assert sign(check, by=maud) == ""
    passages.let_leave(instrument=piano, by=maud)
    with clock.at(clock.now() + timedelta(days=40)):
        piano.refresh_from_db()
        passages.arrive(instrument=piano, on=clock.today(), by=maud)
        assert lines(piano) == ["photos"]
        cast.photo_after(piano, by=maud)
        assert lines(piano) == []


def test_what_was_read_before_is_read_again_where_its_sheet_was_worked_with(check, piano, maud):
    cast.photo_after(piano, by=maud)
    pitch = read_before(piano, "pitch-offset", by=maud)
    assert lines(piano) == [], "no work on the strings: nothing to compare"
    done("string-treble", on=piano, by=maud, sheet="strings", state=TUNED)
    assert "Read before and not since: pitch offset" in sign(check, by=maud)
    (one,) = lacking(piano)
    assert one.where == f"/tasks/{check.pk}/sheet/strings/"
    read_after(check, pitch, by=maud, phase=Phase.DURING)
    assert lines(piano) == ["readings"]
    reading = read_after(check, pitch, by=maud)
    assert lines(piano) == []
    Reading.objects.filter(pk=reading.pk).update(struck_at=clock.now())
    assert lines(piano) == ["readings"]


def test_the_final_check_may_be_worked_with_the_sheets_it_is_asked_for(check, piano, maud, client):
    assert kinds_for(Task.objects.get(pk=check.pk)) == []
    done("string-treble", on=piano, by=maud, sheet="strings", state=TUNED)
    read_before(piano, "pitch-offset", by=maud)
    assert kinds_for(Task.objects.get(pk=check.pk)) == ["strings"]
    client.force_login(maud)
    assert client.get(f"/tasks/{check.pk}/sheet/strings/").status_code == 200


def test_what_was_never_read_is_not_asked_for(check, piano, maud):
    cast.photo_after(piano, by=maud)
    done("string-treble", on=piano, by=maud, sheet="strings", state=TUNED)
    assert sign(check, by=maud) == ""


def test_a_new_finish_wants_its_sample(check, piano, maud):
    cast.photo_after(piano, by=maud)
    done("build-lacquer", on=piano, by=maud, state={"leaves": {"finish": "built"}})
    assert "no sample of it is signed" in sign(check, by=maud)
    done("finish-test", on=piano, by=maud, state={"leaves": {"sample": "signed"}})
    assert sign(check, by=maud) == ""


def test_a_finish_that_was_only_sanded_or_rubbed_wants_none(check, piano, maud):
    cast.photo_after(piano, by=maud)
    done("rub-out", on=piano, by=maud, state={"leaves": {"finish": "rubbed"}})
    assert lines(piano) == []


def test_where_there_are_crates_the_count_is_whole(check, piano, maud):
    cast.photo_after(piano, by=maud)
    crate = cast.crate(piano, by=maud, holds="4 × lid hinges")
    said = sign(check, by=maud)
    assert f"still packed: crate {crate.number}" in said
    (one,) = lacking(piano)
    assert one.where == "/instruments/214/crates/"
    crates.empty_crate(crate=crate, by=maud, tap=cast.tap(maud), seen=0)
    assert sign(check, by=maud) == ""


# --- past it ---


def test_a_manager_goes_past_missing_proof_only_with_a_reason_and_it_is_in_the_ledger(check, maud):
    assert "needs a reason" in sign(check, by=maud, override=True)
    assert sign(check, by=maud, override=True, reason="The camera is broken") == ""
    assert Move.objects.filter(task=check, overrode=True, reason="The camera is broken").exists()


def test_other_work_is_signed_without_any_of_it(piano, maud):
    done("strip", on=piano, by=maud)


def test_it_asks_as_often_for_a_big_job_as_for_a_small_one(check, piano, maud, django_assert_num_queries):
    read_before(piano, "pitch-offset", by=maud)
    done("string-treble", on=piano, by=maud, sheet="strings", state=TUNED)
    lines(piano)  # the catalogue is read once and kept
    with django_assert_num_queries(16):
        assert lines(piano) == ["photos", "readings"]
    for code in ("one", "two", "three"):
        done(code, on=piano, by=maud, sheet="strings", state=TUNED)
    lines(piano)
    with django_assert_num_queries(16):
        lines(piano)


# --- the check list of the report ---


@pytest.fixture
def office(maud: Person, piano: Instrument) -> Client:
    browser = Client()
    browser.force_login(maud)
    assert browser.post("/instruments/214/handover/begin/").status_code == 302
    return browser


def test_a_tick_without_a_photo_is_refused_says_where_and_keeps_the_others(office):
    answer = office.post("/instruments/214/handover/checks/", {"state-photos": "yes", "state-plays": "yes"})
    words = answer.content.decode()
    assert answer.status_code == 422
    assert "A tick alone will not do. No photo of after the work" in words
    assert 'href="/instruments/214/photos/"' in words
    assert 'name="state-plays" value="yes" checked' in words
    assert 'name="state-photos" value="yes" checked' not in words


def test_with_the_photo_the_tick_is_taken(office, piano, maud):
    cast.photo_after(piano, by=maud)
    assert office.post("/instruments/214/handover/checks/", {"state-photos": "yes"}).status_code == 302


def test_only_a_manager_says_that_a_line_does_not_apply_and_only_with_a_word(office, piano):
    hand = Client()
    hand.force_login(cast.person("Bea Cole", home=cast.department("final")))
    said = {"state-photos": "none", "note-photos": "the camera is broken"}
    assert hand.post("/instruments/214/handover/checks/", said).status_code == 422
    assert office.post("/instruments/214/handover/checks/", said | {"note-photos": ""}).status_code == 422
    assert office.post("/instruments/214/handover/checks/", said).status_code == 302


def test_a_new_finish_has_a_line_of_its_own(office, piano, maud):
    page = office.get("/instruments/214/handover/checks/").content.decode()
    assert "as the sample that was signed" not in page
    done("build-lacquer", on=piano, by=maud, state={"leaves": {"finish": "built"}})
    office.post("/instruments/214/handover/checks/", {})
    page = office.get("/instruments/214/handover/checks/").content.decode()
    assert "as the sample that was signed" in page
    assert office.post("/instruments/214/handover/checks/", {"state-sample": "yes"}).status_code == 422


def test_a_photo_put_aside_after_the_signature_holds_the_report_back(office, piano, maud):
    photo = cast.photo_after(piano, by=maud)
    office.post("/instruments/214/handover/checks/", {"state-photos": "yes"})
    Photo.objects.filter(pk=photo.pk).update(hidden_at=clock.now())
    assert "No photo of after the work" in office.get("/instruments/214/handover/").content.decode()
