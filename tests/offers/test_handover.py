"""The report with which an instrument goes home: nobody signs his own work, nothing undecided goes home."""

from __future__ import annotations

import json

import pytest
from django.db import OperationalError, connection, transaction
from django.test import Client, TestCase

from shopflow.catalogue.models import Caution, FindingKind, ReadingKind
from shopflow.common.refusals import Refused
from shopflow.instruments.models import Finding, SurveyReading
from shopflow.offers.frozen import fingerprint_of
from shopflow.offers.models import Handover, LaidOut
from shopflow.offers.selectors.report import report_of
from shopflow.offers.services import handovers, leaving
from shopflow.offers.services.mended import note_what_is_mended_anywhere
from shopflow.people.access import NotAllowed
from shopflow.photos.services import add_photo, make_copies
from shopflow.readings.models import BenchSheet, Phase, Reading
from shopflow.workshop.models import Task
from tests import cast
from tests.photos import pictures
from tests.test_a_fault_at_any_step import blocks_of_their_own, failing_at, state_of_the_shop

from .links import as_customer
from .shop import PRIVATE, Crack, signed_in


class Finished(Crack):
    """The crack was shimmed and everything is signed; a stain is left as found."""

    def __init__(self) -> None:
        super().__init__(warranty="Two years on our work.")
        self.owner = cast.owner()
        self.other_hand = cast.person("Bea Cole", home=self.bench)
        shim = cast.task(self.operations["crack-shim"], on=self.instrument, by=self.manager)
        LaidOut.objects.create(task=shim, finding=self.finding)
        self.finding.state = Finding.State.IN_WORK
        self.finding.save()
        self.stain = self.add_finding("Old stain", severity=1)
        leaving.leave_by_the_shop(
            finding=self.stain, reason="sound", consequence="Nothing changes.", by=self.manager
        )
        for code in ("strings-off", "crack-shim", "string-treble", "rub-out"):
            task = Task.objects.get(instrument=self.instrument, operation__code=code)
            cast.walk(task, by=self.manager, until="hardening")
            cast.send(task, "proving", by=self.manager)
            cast.send(task, "signed", by=self.owner)
        self.instrument.refresh_from_db()
        cast.photo_after(self.instrument, by=self.other_hand)

    def verdicts(self, handover: Handover, state: str = "yes") -> dict[str, dict[str, str]]:
        return {line["code"]: {"state": state, "note": ""} for line in handover.checks}

    def checked(self) -> Handover:
        handover = handovers.begin(instrument=self.instrument, by=self.manager)
        return handovers.check(
            handover=handover, verdicts=self.verdicts(handover), by=self.other_hand, sign=True
        )

    def given(self) -> Handover:
        handover = self.checked()
        return handovers.hand_over(
            handover=handover,
            received_by=PRIVATE[0],
            seen=fingerprint_of(report_of(handover)),
            by=self.manager,
        )


class DeedTests(TestCase):
    @classmethod
    def setUpTestData(cls):
        cls.piano = Finished()

    def test_neither_hand_nor_stranger_begins_or_hands_over(self):
        handover = self.piano.checked()
        for person in (self.piano.hand, cast.stranger()):
            with pytest.raises(NotAllowed):
                handovers.begin(instrument=self.piano.instrument, by=person)
            with pytest.raises(NotAllowed):
                handovers.hand_over(handover=handover, received_by="x", seen="", by=person)

    def test_beginning_twice_gives_one(self):
        first, second = (
            handovers.begin(instrument=self.piano.instrument, by=self.piano.manager) for _ in range(2)
        )
        assert first == second

    def test_findings_follow_the_signed_work_by_themselves(self):
        assert note_what_is_mended_anywhere() == 1
        assert note_what_is_mended_anywhere() == 0
        self.piano.finding.refresh_from_db()
        assert self.piano.finding.state == Finding.State.MENDED

    def test_it_begins_with_what_is_mended_and_left(self):
        handover = handovers.begin(instrument=self.piano.instrument, by=self.piano.manager)
        lines = [line["words"] for line in handover.checks]
        assert "Mended: Open crack" in lines
        assert "Left as found, and no worse: Old stain" in lines
        self.piano.finding.refresh_from_db()
        assert self.piano.finding.state == Finding.State.MENDED
        assert handover.care == ""
        assert "40 to 45 %" in report_of(handover)["aftercare"][0]["text"]
        assert handover.warranty == "Two years on our work."

    def test_who_did_the_last_work_does_not_sign(self):
        handover = handovers.begin(instrument=self.piano.instrument, by=self.piano.manager)
        verdicts = self.piano.verdicts(handover)
        with pytest.raises(Refused, match="second pair of eyes"):
            handovers.check(handover=handover, verdicts=verdicts, by=self.piano.manager, sign=True)
        signed = handovers.check(handover=handover, verdicts=verdicts, by=self.piano.other_hand, sign=True)
        assert signed.checked_by == self.piano.other_hand

    def test_a_line_that_is_not_clear_is_not_signed(self):
        handover = handovers.begin(instrument=self.piano.instrument, by=self.piano.manager)
        verdicts = self.piano.verdicts(handover, "none") | {"plays": {"state": "no", "note": "note 5"}}
        with pytest.raises(Refused, match="Every note plays"):
            handovers.check(handover=handover, verdicts=verdicts, by=self.piano.other_hand, sign=True)

    def test_a_line_changed_afterwards_takes_the_signature_away(self):
        handover = self.piano.checked()
        verdicts = {"plays": {"state": "no", "note": "note 5 hangs"}}
        changed = handovers.check(handover=handover, verdicts=verdicts, by=self.piano.hand)
        assert changed.checked_by is None

    def test_nothing_undecided_or_unfinished_goes_home(self):
        handover = self.piano.checked()
        crack = self.piano.add_finding("A new crack")
        seen = fingerprint_of(report_of(handover))
        with pytest.raises(Refused, match=r"A new crack.*neither mended nor left"):
            handovers.hand_over(handover=handover, received_by="x", seen=seen, by=self.piano.manager)
        crack.delete()
        cast.task(
            cast.operation("late", at=self.piano.bench), on=self.piano.instrument, by=self.piano.manager
        )
        with pytest.raises(Refused, match="not finished: “Late”"):
            handovers.hand_over(handover=handover, received_by="x", seen=seen, by=self.piano.manager)

    def test_without_a_second_person_it_does_not_go_home(self):
        handover = handovers.begin(instrument=self.piano.instrument, by=self.piano.manager)
        with pytest.raises(Refused, match="second person"):
            handovers.hand_over(handover=handover, received_by="x", seen="", by=self.piano.manager)

    def test_what_changed_since_the_look_is_looked_at_again(self):
        handover = self.piano.checked()
        with pytest.raises(Refused, match="Look once more"):
            handovers.hand_over(handover=handover, received_by="x", seen="0" * 64, by=self.piano.manager)

    def test_handed_over_twice_is_once_and_then_nothing_changes(self):
        given = self.piano.given()
        again = handovers.hand_over(handover=given, received_by=PRIVATE[0], seen="", by=self.piano.manager)
        assert again == given
        with pytest.raises(Refused, match="already"):
            handovers.hand_over(handover=given, received_by="Another", seen="", by=self.piano.manager)
        with pytest.raises(Refused, match="stays as it is"):
            handovers.check(handover=given, verdicts={}, by=self.piano.hand)

    def test_what_is_frozen_stays_whatever_the_shop_says_later(self):
        given = self.piano.given()
        Finding.objects.update(name="renamed")
        Task.objects.update(name="renamed")
        given.refresh_from_db()
        assert "renamed" not in json.dumps(given.frozen)
        assert fingerprint_of(given.frozen) == given.fingerprint

    def test_a_fault_at_any_write_leaves_before_or_after(self):
        handover = self.piano.checked()
        seen = fingerprint_of(report_of(handover))

        def deed():
            handovers.hand_over(handover=handover, received_by="P", seen=seen, by=self.piano.manager)

        before = state_of_the_shop()
        with transaction.atomic():
            with failing_at(0) as writes:
                deed()
            transaction.set_rollback(True)
        assert writes
        for step in range(1, len(writes) + 1):
            with transaction.atomic():
                with blocks_of_their_own(), failing_at(step), pytest.raises(OperationalError):
                    deed()
                connection.needs_rollback = False
                assert state_of_the_shop() == before
                transaction.set_rollback(True)


class ReportTests(TestCase):
    @classmethod
    def setUpTestData(cls):
        cls.piano = Finished()

    def report(self):
        return report_of(handovers.begin(instrument=self.piano.instrument, by=self.piano.manager))

    def test_done_by_operation_with_what_it_mends(self):
        (part, refinishing) = self.report()["done"]
        assert part["department"] == "Soundboard"
        works = {work["name"]: work["mends"] for work in part["works"]}
        assert works == {"Strings-off": [], "Crack-shim": ["Open crack"], "String-treble": []}
        assert [work["name"] for work in refinishing["works"]] == ["Rub-out"]

    def test_nothing_of_hours_cost_or_margin(self):
        said = json.dumps(self.report())
        for inside in ("hours", "cost", "margin", "160", "rate"):
            assert f'"{inside}' not in said
        assert PRIVATE[1] not in said

    def test_left_with_reason_and_consequence(self):
        (left,) = self.report()["left"]
        assert (left["name"], left["reason"], left["consequence"]) == (
            "Old stain",
            "sound enough",
            "Nothing changes.",
        )
        assert not left["declined"]

    def test_readings_before_and_after_side_by_side(self):
        kind = ReadingKind.objects.create(
            code="crown", name="Crown", unit="mm", decimals=1, usual_words="mostly under 6 strung"
        )
        SurveyReading.objects.create(
            survey=self.piano.finding.survey,
            kind=kind,
            place="octave 5",
            typed="1",
            value=1,
            by=self.piano.hand,
        )
        task = Task.objects.get(operation__code="crack-shim")
        sheet = BenchSheet.objects.create(task=task, kind="soundboard", opened_by=self.piano.hand)
        for value, struck in ((9.0, True), (3.5, False)):
            row = Reading.objects.create(
                sheet=sheet,
                kind=kind,
                phase=Phase.AFTER,
                place="octave 5",
                typed=str(value),
                value=value,
                by=self.piano.hand,
            )
            if struck:
                row.struck_at = row.at
                row.save()
        assert self.report()["readings"] == [
            {
                "name": "Crown",
                "place": "octave 5",
                "before": "1.0 mm",
                "after": "3.5 mm",
                "usual": "mostly under 6 strung",
            }
        ]

    def test_the_caution_of_ivory_is_in_it(self):
        Caution.objects.create(code="ivory", title="Ivory", text="Keep it with the instrument.")
        kind = FindingKind.objects.create(code="HI5", group=self.piano.group, name="Ivory")
        finding = self.piano.add_finding("Ivory tops", kind=kind)
        leaving.leave_by_the_shop(
            finding=finding, reason="wish", consequence="The law decides.", by=self.piano.manager
        )
        assert self.report()["cautions"] == [{"title": "Ivory", "text": "Keep it with the instrument."}]

    def test_who_worked_on_it_is_named_once(self):
        assert self.report()["names"] == [["Maud Ferrier", "Soundboard, Refinishing"]]


class PageTests(TestCase):
    @classmethod
    def setUpTestData(cls):
        cls.piano = Finished()
        cls.address = f"/instruments/{cls.piano.instrument.number}/handover/"

    def setUp(self):
        self.office = signed_in(self.piano.manager)

    def test_the_stranger_and_the_bench_write_no_report(self):
        assert Client().get(self.address).status_code == 302
        for person in (cast.stranger(), self.piano.hand):
            assert signed_in(person).get(self.address).status_code == 403

    def test_from_nothing_to_the_customers_page(self):
        self.office.post(f"{self.address}begin/")
        page = self.office.get(self.address)
        typed = page.context["form"].initial | {"words": "Play it well."}
        assert self.office.post(self.address, typed).status_code == 302
        row = Handover.objects.get()
        ticks = {f"state-{line['code']}": "yes" for line in row.checks} | {"sign": "1"}
        hand = signed_in(self.piano.other_hand)
        assert hand.post(f"{self.address}checks/", ticks).status_code == 302
        shown = self.office.get(f"{self.address}preview/")
        sent = {"seen": shown.context["seen"], "received_by": PRIVATE[0]}
        for _ in range(2):
            answer = self.office.post(f"{self.address}preview/", sent)
            assert answer.status_code == 302, answer.content.decode()
        assert Handover.objects.get().received_by == PRIVATE[0]
        customer = as_customer(self.piano.instrument, by=self.piano.manager)
        assert "Handover report of" in customer.get("/yours/").content.decode()
        page = customer.get("/yours/handovers/1/").content.decode()
        for told in ("Play it well.", "Old stain", "Two years on our work.", "Bea Cole"):
            assert told in page
        assert customer.get("/yours/handovers/1/report.pdf").content.startswith(b"%PDF-")
        assert self.office.get(f"{self.address}1/report.pdf").content.startswith(b"%PDF-")

    def test_photos_before_and_after_stand_in_the_report_and_its_paper(self):
        for role in ("found", "after"):
            make_copies(
                add_photo(
                    instrument=self.piano.instrument,
                    file=pictures.file(pictures.jpeg()),
                    role=role,
                    caption="the lid",
                    by=self.piano.hand,
                )
            )
        given = self.piano.given()
        (pair,) = given.frozen["pairs"]
        assert given.frozen["photos"] == [pair["before"], pair["after"]]
        customer = as_customer(self.piano.instrument, by=self.piano.manager)
        page = customer.get("/yours/handovers/1/").content.decode()
        assert f"/yours/photos/{pair['after']}/1600/" in page
        assert customer.get(f"/yours/photos/{pair['after']}/1600/").status_code == 200
        with_photos = customer.get("/yours/handovers/1/report.pdf").content
        assert with_photos.startswith(b"%PDF-")
        assert b"/Subtype/Image" in with_photos.replace(b"/Subtype /Image", b"/Subtype/Image")

    def test_a_report_being_written_is_not_the_customers_yet(self):
        self.piano.checked()
        customer = as_customer(self.piano.instrument, by=self.piano.manager)
        assert customer.get("/yours/handovers/1/").status_code == 404
        assert customer.get("/yours/handovers/1/report.pdf").status_code == 404

    def test_a_report_of_another_is_not_there(self):
        self.piano.given()
        other = cast.instrument(by=self.piano.manager, number="215")
        customer = as_customer(other, by=self.piano.manager)
        assert customer.get("/yours/handovers/1/").status_code == 404
        assert self.office.get("/instruments/215/handover/1/").status_code == 404

    def test_the_check_list_at_the_bench_shows_no_customer(self):
        self.piano.checked()
        page = signed_in(self.piano.hand).get(f"{self.address}checks/").content.decode()
        assert "Every note plays" in page
        assert not any(private in page for private in PRIVATE)

    def test_ticks_are_kept_when_the_signature_is_refused(self):
        self.office.post(f"{self.address}begin/")
        answer = self.office.post(f"{self.address}checks/", {"state-plays": "yes", "sign": "1"})
        assert answer.status_code == 422
        assert "Not every line is clear" in answer.content.decode()
        row = Handover.objects.get()
        assert [line["state"] for line in row.checks if line["code"] == "plays"] == ["yes"]
        assert row.checked_by is None

    def test_odd_verdicts_count_as_none_given(self):
        self.office.post(f"{self.address}begin/")
        self.office.post(f"{self.address}checks/", {"state-plays": "perhaps", "note-plays": "n" * 900})
        (line,) = [line for line in Handover.objects.get().checks if line["code"] == "plays"]
        assert (line["state"], len(line["note"])) == ("", 200)

    def test_two_writers_the_second_sees_and_decides(self):
        self.office.post(f"{self.address}begin/")
        typed = self.office.get(self.address).context["form"].initial
        self.office.post(self.address, typed | {"words": "First."})
        answer = self.office.post(self.address, typed | {"words": "Second."})
        assert answer.status_code == 409
        assert "Second." in answer.content.decode()
        assert Handover.objects.get().words == "First."

    def test_the_door_says_that_no_report_was_given(self):
        page = self.office.get(f"/instruments/{self.piano.instrument.number}/").content.decode()
        assert f'hx-get="{self.address}notice/"' in page
        assert "No handover report was given" in self.office.get(f"{self.address}notice/").content.decode()
        self.piano.given()
        told = self.office.get(f"{self.address}notice/").content.decode()
        assert f"was given to {PRIVATE[0]}" in told
        assert PRIVATE[0] not in signed_in(self.piano.hand).get(f"{self.address}notice/").content.decode()
