"""Regulating values: usual ones to begin with, the instrument's own, sample notes within tolerance or not."""

from html import unescape

import pytest
from django.test import TestCase

from shopflow.people.access import NotAllowed
from shopflow.people.edits import ChangedMeanwhile
from shopflow.readings.models import RegulatingSample
from shopflow.readings.selectors.touch import regulated
from shopflow.readings.services import touch as services

from .test_action_touch import TouchCast

HOME = "/instruments/214/touch/regulating/"


class RegulatingTests(TouchCast, TestCase):
    def values(self):
        services.begin_values(instrument=self.piano, by=self.hand)
        return {row.code: row for row in self.piano.regulating_values.all()}

    def test_strangers_see_nothing_and_another_bench_writes_nothing(self):
        self.client.force_login(self.stranger)
        assert self.client.get(HOME).status_code == 403
        value = self.values()["dip"]
        self.client.force_login(self.finisher)
        assert self.client.get(HOME).status_code == 200
        for tail in ("", "dip/", "dip/sample/"):
            assert self.client.post(HOME + tail).status_code == 403
        with pytest.raises(NotAllowed):
            services.read_sample(value=value, phase="before", note=1, read_mm=10, by=self.finisher)

    def test_the_usual_values_are_marked_and_begun_once(self):
        self.client.force_login(self.hand)
        self.client.post(HOME)
        self.client.post(HOME)
        rows = {row.code: row for row in self.piano.regulating_values.all()}
        # An upright's let-off: 3 mm in the bass to 2 in the treble (technicians' list, 1998).
        assert (rows["let-off"].bass_mm, rows["let-off"].treble_mm) == (3, 2)
        assert rows["let-off"].at_note(1) == 3
        assert rows["let-off"].at_note(88) == 2
        assert all("no source" in row.basis for row in rows.values())
        assert len(rows) == 5

    def test_a_value_becomes_the_instruments_own(self):
        value = self.values()["dip"]
        self.client.force_login(self.hand)
        sent = {"bass_mm": "10,0", "treble_mm": "9.8", "tolerance_mm": "0.1", "version": value.version}
        assert self.client.post(HOME + "dip/", sent).status_code == 302
        value.refresh_from_db()
        assert (value.bass_mm, value.treble_mm, value.tolerance_mm) == (10, 9.8, 0.1)
        assert value.basis == "this instrument, set by Ada Lund"
        again = self.client.post(HOME + "dip/", sent | {"bass_mm": "10.4"})
        assert again.status_code == 409
        self.assertContains(again, "Someone else changed this", status_code=409)
        assert self.client.post(HOME + "dip/", sent).status_code == 302, "the same again changes nothing"
        with pytest.raises(ChangedMeanwhile):
            services.set_value(
                value=value, bass_mm=1, treble_mm=1, tolerance_mm=0, seen_version=1, by=self.manager
            )

    def test_a_sample_is_within_tolerance_or_told_by_how_much_it_is_not(self):
        value = self.values()["let-off"]
        for note, read in ((1, 3.4), (88, 3.0)):
            services.read_sample(value=value, phase="before", note=note, read_mm=read, by=self.hand)
        (part,) = [each for each in regulated(self.piano) if each.value.code == "let-off"]
        assert [sample.off_mm for sample in part.samples] == [0, pytest.approx(0.5)]
        assert part.off_count == 1
        services.read_sample(value=value, phase="after", note=88, read_mm=2.1, by=self.hand)
        (part,) = [each for each in regulated(self.piano) if each.value.code == "let-off"]
        assert part.off_count == 0
        assert part.samples[1].before.read_mm == 3.0

    def test_samples_go_from_note_to_note_and_count_once(self):
        self.values()
        self.client.force_login(self.hand)
        sent = {"note": "1", "phase": "before", "read_mm": "3,1"}
        for _ in range(2):
            answer = self.client.post(HOME + "let-off/sample/", sent)
            assert answer["Location"] == HOME + "?note=22&phase=before#let-off"
        assert RegulatingSample.objects.count() == 1
        self.assertContains(self.client.get(answer["Location"]), "A0")

    def test_bad_numbers_are_named(self):
        self.values()
        self.client.force_login(self.hand)
        for typed, words in (("1e400", "not a unit"), ("NaN", "not a number"), ("300", "allowed is")):
            answer = self.client.post(
                HOME + "dip/sample/", {"note": "1", "phase": "before", "read_mm": typed}
            )
            assert answer.status_code == 422
            assert words in unescape(answer.content.decode())
        assert self.client.post(HOME + "dip/sample/", {"note": "89", "phase": "x"}).status_code == 422
        assert self.client.post(HOME + "dip/", {"bass_mm": "-3"}).status_code == 422
        assert self.client.post(HOME + "no-such/sample/", {}).status_code == 404
        assert not RegulatingSample.objects.exists()
