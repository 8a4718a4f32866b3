"""The report that goes home says what the ledger and the state prove: cases that reports once got wrong."""

from __future__ import annotations

import json
import shutil
import subprocess
from datetime import timedelta
from html import unescape
from unittest import mock

import pytest
from django.test import TestCase

from shopflow.catalogue.models import FindingKind, Operation, ReadingKind, Remedy
from shopflow.catalogue.services import load_trade
from shopflow.common import clock
from shopflow.common.refusals import Refused
from shopflow.instruments.models import Finding, Instrument, Survey, SurveyReading
from shopflow.offers.frozen import fingerprint_of
from shopflow.offers.handover_paper import paper_of
from shopflow.offers.models import Handover, LaidOut, LeftAsFound, Offer, Option, OptionFinding
from shopflow.offers.selectors.fates import fate_of_findings
from shopflow.offers.selectors.handovers import missing_for
from shopflow.offers.selectors.report import report_of
from shopflow.offers.services import handovers
from shopflow.offers.services.mended import note_what_is_mended
from shopflow.readings.models import BenchSheet, KeyWeight, Phase, Reading
from shopflow.workshop.models import Move, Task
from shopflow.workshop.services import passages
from tests import cast

from .links import as_customer
from .shop import PRIVATE, signed_in


class Proven(TestCase):
    """A grand with the trade's whole catalogue; tasks are signed in the order in which they are named."""

    @classmethod
    def setUpTestData(cls):
        cast.shop()
        load_trade()
        cls.maud = cast.manager()
        cls.bea = cast.person("Bea Cole")
        cls.customer = cast.customer(PRIVATE[0], email=PRIVATE[1])
        cls.piano = cast.instrument(by=cls.maud, kind="grand", number="214", customer=cls.customer)
        cls.survey = Survey.objects.create(
            instrument=cls.piano, number=1, by=cls.maud, finished_at=clock.now(), occasion="first"
        )

    def setUp(self):
        self.now = clock.now()

    def sign(self, *codes: str) -> list[Task]:
        """Taken up and signed, each an hour after the other, past what a bench would ask for."""
        tasks = []
        for code in codes:
            task = cast.task(Operation.objects.get(code=code), on=self.piano, by=self.maud)
            stages = [task.stage, *task.department.stages.filter(pk__in=task.path).order_by("position")]
            rack, signed = stages[0], stages[-1]
            for origin, target in ((rack, stages[2]), (stages[2], signed)):
                self.now += timedelta(minutes=30)
                move = Move.objects.create(
                    task=task,
                    origin=origin,
                    target=target,
                    by=self.maud,
                    tapped_at=self.now,
                    recorded_at=self.now,
                    client="desk",
                    key=f"{task.pk}-{target.pk}",
                )
            Task.objects.filter(pk=task.pk).update(stage=signed, stage_since=move.recorded_at)
            task.refresh_from_db()
            tasks.append(task)
        return tasks

    def undo(self, task: Task) -> None:
        last = Move.objects.filter(task=task).last()
        Move.objects.create(
            task=task,
            origin=last.target,
            target=last.origin,
            by=self.maud,
            tapped_at=self.now,
            client="desk",
            key=f"undo {task.pk}",
            undoes=last,
        )
        Task.objects.filter(pk=task.pk).update(stage=last.origin)

    def finding(self, kind: str, state: str = Finding.State.IN_WORK, **given: object) -> Finding:
        known = FindingKind.objects.get(code=kind)
        number = Finding.objects.filter(instrument=self.piano).count() + 1
        usual = {"kind": known, "group": known.group, "name": known.name, "severity": 2, "by": self.maud}
        return Finding.objects.create(
            survey=self.survey, instrument=self.piano, number=number, state=state, **(usual | given)
        )

    def sold(self, finding: Finding, remedy: str, task: Task) -> None:
        """Tied to a task as approving an option ties it, with the remedy of that option."""
        version = Offer.objects.filter(instrument=self.piano).count() + 1
        offer = Offer.objects.create(instrument=self.piano, version=version, made_by=self.maud)
        option = Option.objects.create(offer=offer, name="As agreed", price=0, reckoned=0)
        OptionFinding.objects.create(
            option=option, finding=finding, treatment="repair", remedy=Remedy.objects.get(code=remedy)
        )
        LaidOut.objects.create(task=task, finding=finding, option=option)

    def report(self) -> dict:
        return report_of(handovers.begin(instrument=self.piano, by=self.maud))

    def read(self, task: Task, kind: str, value: float, *, minutes: int, phase: str = Phase.AFTER) -> None:
        sheet, _ = BenchSheet.objects.get_or_create(task=task, kind="strings", opened_by=self.maud)
        Reading.objects.create(
            sheet=sheet,
            kind=ReadingKind.objects.get(code=kind),
            phase=phase,
            place="A4",
            typed=str(value),
            value=value,
            by=self.maud,
            at=self.now + timedelta(minutes=minutes),
        )

    def went_home_and_came_back(self) -> None:
        with clock.at(self.now + timedelta(days=1)):
            passages.let_leave(instrument=self.piano, by=self.maud, reason="as agreed")
        self.piano.refresh_from_db()
        self.now += timedelta(days=40)
        with clock.at(self.now):
            passages.arrive(instrument=self.piano, on=clock.today(), by=self.maud)
        self.piano.refresh_from_db()


class WorkTests(Proven):
    def test_an_undone_signature_is_not_done_and_holds_nothing(self):
        (tuned,) = self.sign("tune-once")
        assert [one["words"] for one in self.report()["claims"]] == ["It is tuned"]
        self.undo(tuned)
        report = self.report()
        assert (report["done"], report["claims"]) == ([], [])

    def test_a_claim_names_the_work_that_it_rests_on(self):
        self.sign("pitch-raise", "shop-tune")
        (claim,) = [one for one in self.report()["claims"] if one["words"] == "It is tuned"]
        assert claim["by"] == "Fine tunings in the shop"

    def test_an_older_stay_does_not_count(self):
        self.sign("strings-off", "pins-out", "string-treble")
        old = self.finding("ST1", state=Finding.State.MENDED, at=self.now)
        LaidOut.objects.create(task=Task.objects.get(operation__code="string-treble"), finding=old)
        self.went_home_and_came_back()
        report = self.report()
        assert (report["done"], report["claims"], report["old_parts"]) == ([], [], "")
        assert [care["title"] for care in report["aftercare"]] == ["The air around it"]
        assert fate_of_findings(self.piano).told == ()
        assert report["names"] == []

    def test_care_follows_what_was_done(self):
        self.sign("strings-off", "pins-out", "string-treble", "string-bass", "hammers-hang")
        titles = [care["title"] for care in self.report()["aftercare"]]
        assert titles == ["The air around it", "New strings", "New hammers"]
        words = json.dumps(self.report(), ensure_ascii=False)
        assert "common practice" not in words
        assert "no source" not in words

    def test_visits_are_the_tasks_at_the_owners_with_their_days(self):
        visit = cast.task(Operation.objects.get(code="aftercare-tune"), on=self.piano, by=self.maud)
        about = clock.today() + timedelta(weeks=8)
        on = f"about {about:%B %Y}; we agree the day with you"
        assert self.report()["visits"] == [{"name": visit.name, "on": on}]
        Task.objects.filter(pk=visit.pk).update(planned_for="2027-03-09T10:00Z")
        assert self.report()["visits"] == [{"name": visit.name, "on": "9 March 2027"}]


class FindingTests(Proven):
    def told(self, finding: Finding) -> tuple[str, str]:
        fate = fate_of_findings(self.piano)
        (state,) = [one.state for one in fate.told if one.finding.pk == finding.pk]
        why = [one["why"] for one in self.report()["open"] if one["number"] == finding.number]
        return state, "".join(why)

    def test_a_crack_is_filled_only_by_filling_it(self):
        (varnished,) = self.sign("board-finish")
        crack = self.finding("SB1")
        self.sold(crack, "SB1-crack-fill", varnished)
        state, why = self.told(crack)
        assert state == Finding.State.IN_WORK
        assert "“Fill tight soundboard cracks” is not signed" in why
        assert [work["mends"] for part in self.report()["done"] for work in part["works"]] == [[]]
        self.sign("crack-fill")
        assert self.told(crack) == (Finding.State.MENDED, "")
        mends = {w["name"]: w["mends"] for part in self.report()["done"] for w in part["works"]}
        assert mends["Fill tight soundboard cracks"] == [crack.name]

    def test_what_later_work_undid_is_open_again_and_noted_so(self):
        (raised,) = self.sign("pitch-raise")
        low = self.finding("ST4")
        codes = set(Remedy.objects.get(code="ST4-pitch-raise").operations.values_list("code", flat=True))
        self.sold(low, "ST4-pitch-raise", raised)
        self.sign(*sorted(codes - {"pitch-raise"}))
        note_what_is_mended(self.piano)
        low.refresh_from_db()
        assert low.state == Finding.State.MENDED
        self.sign("string-section")
        state, why = self.told(low)
        assert (state, "was undone by “Restring one section”" in why) == (Finding.State.IN_WORK, True)
        low.refresh_from_db()
        assert low.state == Finding.State.IN_WORK

    def test_called_mended_without_any_work_is_for_somebody_to_decide(self):
        called = self.finding("ST1", state=Finding.State.MENDED)
        report = self.report()
        assert [one["number"] for one in report["open"]] == [called.number]
        called.refresh_from_db()
        assert called.state == Finding.State.OPEN

    def test_old_strings_are_not_left_beside_new_ones(self):
        rusty = self.finding("ST2", state=Finding.State.LEFT)
        LeftAsFound.objects.create(
            finding=rusty, reason="money", decided_by="P", consequence="The old strings stay."
        )
        assert [one["name"] for one in self.report()["left"]] == [rusty.name]
        self.sign("strings-order", "strings-off", "pins-out", "string-treble", "string-bass")
        report = self.report()
        assert report["left"] == []
        (told,) = report["by_the_way"]
        assert told["name"] == rusty.name
        assert "The old strings stay" not in json.dumps(report)

    def test_a_second_crack_stays_left_when_the_first_is_filled(self):
        first, second = self.finding("SB1"), self.finding("SB1", state=Finding.State.LEFT)
        LeftAsFound.objects.create(finding=second, reason="sound", decided_by="P", consequence="Nothing.")
        (filled,) = self.sign("crack-fill")
        self.sold(first, "SB1-crack-fill", filled)
        report = self.report()
        assert [one["number"] for one in report["left"]] == [second.number]
        assert report["by_the_way"] == []


class ReadingTests(Proven):
    def pitch(self) -> list[tuple[str, str]]:
        lines = self.report()["readings"]
        return [(line["before"], line["after"]) for line in lines if line["name"] == "Pitch offset"]

    def test_a_reading_before_the_last_work_on_it_says_nothing(self):
        SurveyReading.objects.create(
            survey=self.survey,
            kind=ReadingKind.objects.get(code="pitch-offset"),
            place="A4",
            typed="-64",
            value=-64,
            by=self.maud,
        )
        assert self.pitch() == []
        (tuned,) = self.sign("tune-once")
        self.read(tuned, "pitch-offset", -2, minutes=-5)
        assert self.pitch() == [("-64 cents", "-2 cents")]
        self.sign("string-mend")
        assert self.pitch() == []
        (again,) = self.sign("tune-once")
        self.read(again, "pitch-offset", -1, minutes=-5)
        assert self.pitch() == [("-64 cents", "-1 cents")]

    def test_keys_that_were_weighed_before_new_hammers_say_nothing(self):
        for phase in ("before", "after"):
            KeyWeight.objects.create(
                instrument=self.piano, phase=phase, note=40, down_g=52, up_g=28, by=self.maud, at=self.now
            )
        assert [line["name"] for line in self.report()["readings"]][:1] == ["Balance weight"]
        self.sign("action-out", "hammers-hang")
        assert self.report()["readings"] == []

    def test_readings_of_an_older_stay_are_not_told(self):
        (tuned,) = self.sign("tune-once")
        self.read(tuned, "pitch-offset", -2, minutes=5)
        self.went_home_and_came_back()
        assert self.pitch() == []


class OldPartsTests(Proven):
    def test_a_bag_of_old_hammers_without_new_ones_is_refused_at_both_doors(self):
        self.sign("action-out", "hammers-file")
        handover = handovers.begin(instrument=self.piano, by=self.maud)
        assert handover.old_parts == ""
        texts = {name: getattr(handover, name) for name in handovers.TEXTS}
        texts["old_parts"] = "The old hammers are in the bag under the lid."
        with pytest.raises(Refused, match="you name “hammers”"):
            handovers.write(handover=handover, seen_edition=handover.edition, texts=texts, by=self.maud)
        Handover.objects.filter(pk=handover.pk).update(old_parts=texts["old_parts"])
        handover.refresh_from_db()
        assert any("you name “hammers”" in words for words in missing_for(handover))

    def test_it_begins_with_the_parts_that_were_taken_out(self):
        self.sign("strings-off", "pins-out", "string-treble", "action-out", "hammers-hang")
        handover = handovers.begin(instrument=self.piano, by=self.maud)
        assert handover.old_parts == "We took out the old hammers, plain strings and tuning pins."


class DoorTests(Proven):
    def given(self) -> Handover:
        self.sign("strings-order", "strings-off", "pins-out", "string-treble", "string-bass", "final-check")
        rusty = self.finding("ST2", state=Finding.State.LEFT)
        LeftAsFound.objects.create(finding=rusty, reason="money", decided_by="P", consequence="They stay.")
        Instrument.objects.filter(pk=self.piano.pk).update(finished_on=clock.today())
        cast.photo_after(self.piano, by=self.bea)
        handover = handovers.begin(instrument=self.piano, by=self.maud)
        Handover.objects.filter(pk=handover.pk).update(checked_by=self.bea, checked_at=clock.now())
        handover.refresh_from_db()
        seen = fingerprint_of(report_of(handover))
        return handovers.hand_over(handover=handover, received_by="P", seen=seen, by=self.maud)

    def sentences(self, report: dict) -> list[str]:
        told = [one["words"] for one in report["claims"]] + [one["name"] for one in report["by_the_way"]]
        told += [care["text"] for care in report["aftercare"]] + [report["old_parts"]]
        return told + [work["name"] for part in report["done"] for work in part["works"]]

    def test_office_customer_and_paper_say_what_was_frozen(self):
        given = self.given()
        sentences = self.sentences(given.frozen)
        assert len(sentences) >= 12
        office = unescape(
            signed_in(self.maud).get(f"/instruments/214/handover/{given.number}/").content.decode()
        )
        theirs = as_customer(self.piano, by=self.maud).get(f"/yours/handovers/{given.number}/")
        customers = unescape(theirs.content.decode())
        for words in sentences:
            assert words in office
            assert words in customers
        assert "Still open" not in customers

    def test_the_paper_is_set_from_the_same_words(self):
        given = self.given()
        with mock.patch("shopflow.offers.handover_paper.pdf") as setting:
            paper_of(given)
        (paper,) = setting.call_args.args
        told = json.dumps(paper.words, ensure_ascii=False)
        for words in self.sentences(given.frozen):
            assert words in told

    @pytest.mark.skipif(not shutil.which("pdftotext"), reason="no pdftotext on this machine")
    def test_the_paper_says_it_word_for_word(self):
        given = self.given()
        read = subprocess.run(
            ["pdftotext", "-raw", str(paper_of(given)), "-"], capture_output=True, check=True
        )
        plain = "".join(read.stdout.decode().replace("\u200b", "").split())
        for words in self.sentences(given.frozen):
            assert "".join(words.split()) in plain, words

    def test_a_report_from_before_still_makes_its_paper(self):
        given = self.given()
        for name in ("claims", "open", "by_the_way", "aftercare", "visits"):
            del given.frozen[name]
        assert paper_of(given).exists()
