"""A missing part stops work, shows where the piano is put together, and keeps it in the house."""

from __future__ import annotations

import re
import uuid
from datetime import timedelta

import pytest
from django.core.exceptions import PermissionDenied

from shopflow.common import clock
from shopflow.common.refusals import Refused
from shopflow.instruments.services import crates
from shopflow.workshop.models import Passage, Snag
from shopflow.workshop.services import passages
from shopflow.workshop.services.parts import missing_part_snag
from tests import cast

pytestmark = pytest.mark.django_db


@pytest.fixture
def maud():
    cast.shop()
    return cast.manager()


@pytest.fixture
def pia(maud):
    return cast.person("Pia Nock", home=cast.department("plating"))


@pytest.fixture
def piano(maud):
    return cast.instrument(by=maud, number="214")


@pytest.fixture
def case_on(piano, maud):
    cast.task(cast.operation("regulate", at=cast.department("final")), on=piano, by=maud)
    return cast.task(cast.operation("case-on", at=cast.department("final")), on=piano, by=maud)


@pytest.fixture
def hinges(piano, pia, maud):
    """A pair of hinges of which one did not come back."""
    crate = cast.crate(piano, by=pia, number=31, holds="2 × lid hinges")
    line = crate.lines.get()
    signed = {"crate": crate, "by": pia, "second": maud}
    sent = crates.count_out(**signed, counts={line.pk: 2}, to="Tidewater Plating", tap=cast.tap(pia), seen=0)
    crates.count_in(**signed, counts={line.pk: 1}, tap=cast.tap(pia), seen=sent.pk)
    line.refresh_from_db()
    return line


def found(line, by):
    last = line.crate.moves.last()
    crates.count_over(crate=line.crate, counts={line.pk: 2}, by=by, tap=cast.tap(by), seen=last.pk)
    line.refresh_from_db()


def stop(line, task, by, key="", **given):
    return missing_part_snag(
        line=line, task=task, by=by, tap=cast.tap(by, key=key), **({"ask_again_on": clock.today()} | given)
    )


def words_on(answer):
    return re.sub(r"\s+", " ", re.sub(r"<[^>]+>", " ", answer.content.decode()))


class TestSnag:
    def test_a_stranger_stops_nothing(self, hinges, case_on):
        with pytest.raises(PermissionDenied):
            stop(hinges, case_on, cast.stranger())
        assert not Snag.objects.exists()

    def test_whoever_counts_may_stop_the_bench_that_waits_for_the_part(self, hinges, case_on, pia):
        assert stop(hinges, case_on, pia).status == 200
        snag = Snag.objects.get()
        assert (snag.task, snag.cause, snag.owner) == (case_on, "part", pia)
        assert snag.reason == "1 of 2 × lid hinges missing, crate 31"

    def test_one_tap_sent_often_and_two_hands_who_find_the_same_hole_stop_it_once(
        self, hinges, case_on, pia, maud
    ):
        said = [stop(hinges, case_on, pia, key="the-same-key").said for _ in range(3)]
        assert said[0] == said[1] == said[2]
        again = stop(hinges, case_on, maud)
        assert (again.status, "stopped by it already" in again.said["refused"]) == (422, True)
        assert Snag.objects.count() == 1

    def test_what_is_not_missing_or_of_another_instrument_stops_nothing(self, hinges, case_on, pia, maud):
        other = cast.task(case_on.operation, on=cast.instrument(by=maud, number="215"), by=maud)
        assert "no part of 215" in stop(hinges, other, pia).said["refused"]
        past = stop(hinges, case_on, pia, ask_again_on=clock.today() - timedelta(days=1))
        assert "allowed is today or later" in past.said["refused"]
        found(hinges, pia)
        assert "No lid hinges is missing" in stop(hinges, case_on, pia).said["refused"]
        assert not Snag.objects.exists()

    def test_the_page_offers_first_what_puts_the_piano_together(self, client, hinges, case_on, pia):
        client.force_login(pia)
        url = f"/instruments/214/parts/{hinges.pk}/missing/"
        page = client.get(url).content.decode()
        assert page.index("Case-on") < page.index("Regulate")
        sent = {"key": uuid.uuid4().hex, "task": case_on.pk, "ask_again_on": clock.today(), "owner": pia.pk}
        for _ in range(2):
            assert client.post(url, sent).headers["Location"] == f"/tasks/{case_on.pk}/"
        assert Snag.objects.get().reason.startswith("1 of 2 × lid hinges")
        wrong = client.post(url, sent | {"key": uuid.uuid4().hex, "ask_again_on": "2026-02-30"})
        assert wrong.status_code == 422


class TestTaskPage:
    def test_where_it_is_put_together_the_missing_part_stands_at_the_head(
        self, client, hinges, case_on, maud
    ):
        client.force_login(maud)
        shown = words_on(client.get(f"/tasks/{case_on.pk}/"))
        assert "Missing of 214 1 of 2 × lid hinges" in shown

    def test_elsewhere_and_when_all_is_there_nothing_is_said(self, client, hinges, case_on, maud, pia):
        client.force_login(maud)
        regulate = case_on.instrument.tasks.get(name="Regulate")
        assert "Missing of" not in words_on(client.get(f"/tasks/{regulate.pk}/"))
        found(hinges, pia)
        assert "Missing of" not in words_on(client.get(f"/tasks/{case_on.pk}/"))


class TestLeaving:
    @pytest.fixture
    def finished(self, piano, maud):
        done = cast.task(cast.operation("strip"), on=piano, by=maud)
        cast.walk(done, by=maud, until="hardening")
        cast.walk(done, by=cast.finisher(), until="signed")
        piano.refresh_from_db()
        assert piano.finished_on
        return piano

    def test_a_part_that_is_missing_keeps_it_in_the_house_unless_a_reason_is_given(
        self, finished, hinges, maud
    ):
        for reason in ("", "the owner is waiting"):
            with pytest.raises(Refused, match="missing: 1 of 2 × lid hinges, crate 31") as refused:
                passages.let_leave(instrument=finished, by=maud, reason=reason)
            assert refused.value.field == "without_parts"
        assert not Passage.objects.filter(kind="left").exists()
        passages.let_leave(instrument=finished, by=maud, without_parts="hinge follows by post")
        assert Passage.objects.get(kind="left").reason == "without all its parts: hinge follows by post"

    def test_what_is_still_counted_out_keeps_it_in_the_house_too(self, finished, pia, maud):
        crate = cast.crate(finished, by=pia, holds="2 × pedals")
        crates.count_out(
            crate=crate,
            counts={crate.lines.get().pk: 2},
            to="Tidewater Plating",
            by=pia,
            second=maud,
            tap=cast.tap(pia),
            seen=0,
        )
        with pytest.raises(Refused, match="counted out: 2 of 2 × pedals at Tidewater Plating"):
            passages.let_leave(instrument=finished, by=maud)

    def test_the_form_says_it_beforehand_and_keeps_what_was_typed(self, client, finished, hinges, maud):
        client.force_login(maud)
        shown = words_on(client.get("/instruments/214/"))
        assert "Why it leaves without all its parts" in shown
        assert "Parts of it still lie in crate 31 (hardware)" in shown
        answer = client.post("/instruments/214/leave/", {"reason": "as is"})
        assert answer.status_code == 422
        assert "Not all of 214 is here" in words_on(answer)
        assert client.post("/instruments/214/leave/", {"without_parts": "by post"}).status_code == 302
        finished.refresh_from_db()
        assert finished.left_on == clock.today()

    def test_when_everything_is_back_it_leaves_without_a_word(self, client, finished, hinges, maud, pia):
        found(hinges, pia)
        client.force_login(maud)
        assert "without all its parts" not in words_on(client.get("/instruments/214/"))
        assert client.post("/instruments/214/leave/").status_code == 302
