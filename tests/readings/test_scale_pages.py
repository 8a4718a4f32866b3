"""The pages of a scale: who may, one note after another, the whole table, what is asked again."""

from html import unescape

import pytest
from django.test import TestCase

from shopflow.common.refusals import Refused
from shopflow.compute.strings import lb_of
from shopflow.people.access import NotAllowed
from shopflow.people.edits import ChangedMeanwhile, mark_of
from shopflow.readings.models import ScaleNote, StringScale
from shopflow.readings.note_cells import facts_of
from shopflow.readings.scale_words import doubts, oddities_in_words
from shopflow.readings.selectors.scale import reckon
from shopflow.readings.services import scale as services
from tests import cast

from .scale_cast import FACTS, ScaleCast, bass, draft, treble

A4 = {"section": "treble", "strings": "3", "length_mm": "400", "wire": "16", "cover_mm": "", "ends": "round"}
NOTHING = mark_of({})


class DoorTests(ScaleCast, TestCase):
    def test_strangers_see_no_scale_and_another_bench_writes_none(self):
        self.client.force_login(self.stranger)
        for tail in ("", "note/49/", "table/", "propose/", "order/", "csv/"):
            assert self.client.get(self.url(tail)).status_code == 403
        self.client.force_login(self.finisher)
        assert self.client.get(self.url()).status_code == 200
        for tail in ("note/49/", "table/", "propose/", "facts/", "drop/", "note/49/off/"):
            with self.subTest(tail=tail):
                assert self.client.post(self.url(tail), A4).status_code == 403
        assert self.client.post("/instruments/214/scale/", A4).status_code == 403
        assert not ScaleNote.objects.exists()

    def test_the_deeds_ask_for_the_bench_themselves(self):
        for person in (self.stranger, self.finisher):
            with self.subTest(person=person.name):
                with pytest.raises(NotAllowed):
                    services.start_scale(instrument=self.piano, by=person, facts=FACTS)
                with pytest.raises(NotAllowed):
                    services.put_note(scale=self.scale, draft=treble()[0], seen=NOTHING, by=person)
                with pytest.raises(NotAllowed):
                    services.put_table(scale=self.scale, drafts=treble(), seen_version=1, by=person)
                with pytest.raises(NotAllowed):
                    services.drop_scale(scale=self.scale, by=person)

    def test_a_scale_is_not_found_under_another_instrument(self):
        cast.instrument(by=self.manager, number="215")
        self.client.force_login(self.stringer)
        assert self.client.get(f"/instruments/215/scale/{self.scale.pk}/").status_code == 404
        assert self.client.get(self.url("note/0/")).status_code == 404
        assert self.client.get(self.url("note/89/")).status_code == 404


class BeginTests(ScaleCast, TestCase):
    def test_a_scale_is_begun_and_may_take_the_notes_of_another(self):
        self.filled()
        self.client.force_login(self.stringer)
        sent = {
            "kind": "strung",
            "a4_hz": "442",
            "gauge": "metric",
            "strength": "own",
            "strength_mpa": "2700",
        }
        answer = self.client.post("/instruments/214/scale/", sent | {"copy_of": self.scale.pk})
        made = StringScale.objects.order_by("-pk").first()
        assert answer["Location"] == f"/instruments/214/scale/{made.pk}/"
        assert (made.a4_hz, made.strength_mpa, made.gauge, made.notes.count()) == (442, 2700, "metric", 22)

    def test_pitch_and_strength_out_of_range_are_refused_with_the_range(self):
        self.client.force_login(self.stringer)
        sent = {"kind": "found", "a4_hz": "440", "gauge": "inch", "strength": "power law"}
        for field, typed, range_words in (
            ("a4_hz", "-3", "300.0 to 600.0 Hz"), ("a4_hz", "1e400", "not a unit"),
            ("a4_hz", "NaN", "not a number"), ("strength", "hearsay", "hearsay"),
        ):  # fmt: skip
            with self.subTest(field=field, typed=typed):
                answer = self.client.post("/instruments/214/scale/", sent | {field: typed})
                assert answer.status_code == 422
                assert range_words in unescape(answer.content.decode())
        answer = self.client.post("/instruments/214/scale/", sent | {"strength": "own"})
        assert answer.status_code == 422

    def test_what_was_found_stays_and_a_proposal_may_go(self):
        self.filled()
        with pytest.raises(Refused):
            services.drop_scale(scale=self.scale, by=self.manager)
        proposal = services.start_scale(
            instrument=self.piano, by=self.manager, facts=FACTS | {"kind": "proposed"}, copy_of=self.scale
        )
        self.client.force_login(self.stringer)
        self.client.post(f"/instruments/214/scale/{proposal.pk}/drop/")
        assert list(StringScale.objects.all()) == [self.scale]


class NoteTests(ScaleCast, TestCase):
    def setUp(self):
        self.client.force_login(self.stringer)

    def put(self, note, **typed):
        row = self.scale.notes.filter(note=note).first()
        return self.client.post(self.url(f"note/{note}/"), A4 | {"seen": mark_of(facts_of(row))} | typed)

    def test_a_note_is_kept_and_the_next_one_is_there_with_the_last_wire_offered(self):
        answer = self.put(49)
        assert answer["Location"] == self.url("note/50/")
        row = self.scale.notes.get()
        assert (row.note, row.length_mm, row.wire_size, row.strings, row.by) == (
            49,
            400,
            16,
            3,
            self.stringer,
        )
        page = self.client.get(answer["Location"]).content.decode()
        assert 'name="wire" id="id_wire" value="16"' in page
        assert 'name="length_mm" id="id_length_mm" value=""' in page
        assert "last: 400" in page

    def test_working_downward_goes_downward(self):
        assert self.put(49, way="down")["Location"] == self.url("note/48/") + "?way=down"
        assert "last: 400" in self.client.get(self.url("note/48/") + "?way=down").content.decode()

    def test_same_as_last_keeps_all_of_the_last_note(self):
        services.put_note(scale=self.scale, draft=treble()[0], seen=NOTHING, by=self.stringer)
        answer = self.put(50, same="1", length_mm="", wire="nonsense", yes="1")
        assert answer.status_code == 302
        assert facts_of(self.scale.notes.get(note=50)) == treble()[0].facts() | {"note": 50}

    def test_the_same_form_sent_twice_keeps_one_note(self):
        sent = A4 | {"seen": NOTHING}
        answers = [self.client.post(self.url("note/49/"), sent) for _ in range(3)]
        assert {each["Location"] for each in answers} == {self.url("note/50/")}
        assert self.scale.notes.count() == 1

    def test_what_is_wrong_is_named_and_what_was_typed_stays(self):
        for typed in ("-3", "1e400", "NaN", "Infinity", "", "40 kg"):
            with self.subTest(typed=typed):
                answer = self.put(49, length_mm=typed, wire="17")
                assert answer.status_code == 422
                page = unescape(answer.content.decode())
                assert f'id="id_length_mm" value="{typed}"' in page
                assert 'id="id_wire" value="17"' in page
                assert "Nothing was saved yet" in page
        assert not self.scale.notes.exists()

    def test_a_decimal_comma_is_understood(self):
        self.put(49, length_mm="400,5", wire="0,95")
        row = self.scale.notes.get()
        assert (row.length_mm, row.wire_mm, row.wire_size) == (400.5, 0.95, None)
        assert row.typed == "400,5 mm · 0,95"

    def test_the_unlikely_is_asked_again_and_kept_with_a_mark_after_a_yes(self):
        answer = self.put(49, length_mm="4000 in")
        assert answer.status_code == 422
        answer = self.put(49, length_mm="1400")
        self.assertContains(answer, "Measured again?", status_code=422)
        self.assertContains(answer, "667 to 890 N", status_code=422)
        assert not self.scale.notes.exists()
        assert self.put(49, length_mm="1400", yes="1").status_code == 302
        assert self.scale.notes.get().measured_again
        assert self.put(60, length_mm="211").status_code == 302
        assert not self.scale.notes.get(note=60).measured_again

    def test_a_string_not_shorter_than_its_neighbour_below_is_asked_again(self):
        self.put(49)
        answer = self.put(50, length_mm="405")
        self.assertContains(answer, "usual is 1 to 10 % less", status_code=422)
        assert self.put(50, length_mm="405", section="high treble").status_code == 302

    def test_two_who_change_one_note_see_both_versions(self):
        self.put(49)
        answer = self.client.post(self.url("note/49/"), A4 | {"seen": NOTHING, "length_mm": "399"})
        assert answer.status_code == 409
        page = unescape(answer.content.decode())
        assert "Someone else changed this" in page
        assert "400.0 mm" in page
        assert 'id="id_length_mm" value="399"' in page
        assert self.scale.notes.get().length_mm == 400

    def test_a_note_is_taken_out_again(self):
        self.put(49)
        row = self.scale.notes.get()
        assert self.client.post(self.url("note/49/off/"), {"seen": NOTHING}).status_code == 409
        self.client.post(self.url("note/49/off/"), {"seen": mark_of(facts_of(row))})
        assert not self.scale.notes.exists()
        assert self.client.post(self.url("note/49/off/"), {"seen": "x"}).status_code == 302

    def test_an_inch_shop_types_inches(self):
        cast.shop(units="inch")
        self.put(49, length_mm="15 3/4")
        row = self.scale.notes.get()
        assert (row.length_mm, row.typed) == (400.05, "15 3/4 in · 16")
        page = self.client.get(self.url("note/50/")).content.decode()
        assert "Speaking length, in" in page
        assert "last: 15.75" in page


class TableTests(ScaleCast, TestCase):
    def setUp(self):
        self.client.force_login(self.stringer)

    def sent(self, rows, version=None):
        self.scale.refresh_from_db()
        cells = {"version": self.scale.version if version is None else version}
        for note, row in rows.items():
            cells |= {f"n{note}-{name}": value for name, value in row.items()}
        return self.client.post(self.url("table/"), cells)

    def test_the_table_is_kept_as_a_whole(self):
        assert self.sent({49: A4, 50: A4 | {"length_mm": "378"}}).status_code == 302
        assert self.scale.notes.count() == 2
        assert self.sent({50: A4 | {"length_mm": "379"}}).status_code == 302
        assert list(self.scale.notes.values_list("note", "length_mm")) == [(50, 379.0)]

    def test_one_wrong_cell_and_nothing_is_kept(self):
        answer = self.sent({49: A4, 50: A4 | {"length_mm": "1e400"}, 51: A4 | {"wire": "5"}})
        assert answer.status_code == 422
        page = unescape(answer.content.decode())
        assert "Note 50, speaking length" in page
        assert "Note 51, wire or core" in page
        assert 'value="1e400"' in page
        assert not self.scale.notes.exists()

    def test_rows_that_stay_keep_who_read_them(self):
        services.put_note(scale=self.scale, draft=treble()[0], seen=NOTHING, by=self.manager)
        self.sent({49: A4, 50: A4 | {"length_mm": "378"}})
        assert {row.note: row.by for row in self.scale.notes.all()} == {49: self.manager, 50: self.stringer}

    def test_a_table_begun_before_somebody_else_saved_is_not_kept_unseen(self):
        self.filled()
        answer = self.sent({49: A4}, version=1)
        assert answer.status_code == 409
        assert self.scale.notes.count() == 22
        assert self.sent({49: A4}).status_code == 302

    def test_a_table_that_changes_nothing_is_welcome_however_old(self):
        self.filled()
        before = StringScale.objects.get(pk=self.scale.pk).version
        rows = {row.note: {"x": ""} for row in self.scale.notes.all()}
        assert rows
        services.put_table(scale=self.scale, drafts=[*bass(), *treble()], seen_version=0, by=self.stringer)
        assert StringScale.objects.get(pk=self.scale.pk).version == before


class FigureTests(ScaleCast, TestCase):
    def test_the_page_shows_what_compute_says_and_by_which_strength(self):
        self.filled()
        self.client.force_login(self.finisher)
        page = self.client.get(self.url()).content.decode()
        shown = reckon(self.scale, "metric")
        a4 = next(line for line in shown.lines if line.row.note == 49)
        # T = 4 L² f² mu with steel of 7850 kg/m³, by hand for 0.400 m, 440 Hz, 0.9398 mm.
        assert a4.figures.tension_n == pytest.approx(
            4 * 0.16 * 440**2 * 7850 * 3.14159265 * 0.9398e-3**2 / 4, rel=1e-6
        )
        assert f"{a4.figures.tension_n:.0f}</td>" in page
        assert f"{lb_of(a4.figures.tension_n):.0f}</td>" in page
        assert "ASTM A228 minimum" in page
        assert "Not entered yet: notes 11 to 48, notes 61 to 88" in page
        assert page.count("<svg xmlns") >= 8, "four curves, wide and narrow"
        assert "String tension" in page

    def test_a_published_string_stands_on_the_page(self):
        """F3 of a published model of a concert grand: 0.960 m, 1.049 mm, 766 N at 175.008 Hz (J. Chabassier).

        At 174.614 Hz, equal temperament, the same string pulls 766 x (174.614/175.008)² N.
        """
        row = draft(33, "960", "1.049 mm", section="tenor")
        services.put_note(scale=self.scale, draft=row, seen=NOTHING, by=self.manager)
        pull = reckon(self.scale, "metric").lines[0].figures.tension_n
        assert pull == pytest.approx(766 * (174.6141 / 175.008) ** 2, rel=0.0005)

    def test_a_pitch_raise_tells_what_each_pass_returns(self):
        self.filled()
        self.client.force_login(self.stringer)
        page = self.client.get(self.url(), {"from_cents": "-100", "aims": "-40 0"}).content.decode()
        # 2^(-100/600) = 89.1 %, 2^(-40/600) = 95.5 %: computed.
        assert "6.4 %" in page
        assert "4.5 %" in page
        odd = self.client.get(self.url(), {"from_cents": "NaN", "aims": "x"})
        assert odd.status_code == 200
        self.assertContains(odd, "is not a number")

    def test_the_pages_ask_the_same_number_of_questions_however_many_notes(self):
        self.client.force_login(self.stringer)
        services.put_table(scale=self.scale, drafts=treble(49, 51), seen_version=1, by=self.manager)
        for tail in ("", "note/49/", "table/", "order/"):
            few = self.count(tail)
            self.filled()
            with self.subTest(tail=tail):
                assert self.count(tail) == few
            self.scale.refresh_from_db()
            services.put_table(
                scale=self.scale, drafts=treble(49, 51), seen_version=self.scale.version, by=self.manager
            )

    def count(self, tail):
        from django.db import connection
        from django.test.utils import CaptureQueriesContext

        with CaptureQueriesContext(connection) as asked:
            assert self.client.get(self.url(tail)).status_code == 200
        return len(asked)

    def test_what_no_sum_can_be_made_of_is_refused(self):
        absurd = draft(88, "2999", "3.0 mm")
        with pytest.raises(Refused):
            services.put_note(scale=self.scale, draft=absurd, seen=NOTHING, by=self.manager)

    def test_a_change_of_facts_over_a_newer_one_is_refused(self):
        services.change_scale(
            scale=self.scale, facts=FACTS | {"a4_hz": 442.0}, seen_version=1, by=self.manager
        )
        with pytest.raises(ChangedMeanwhile):
            services.change_scale(
                scale=self.scale, facts=FACTS | {"a4_hz": 435.0}, seen_version=1, by=self.stringer
            )
        assert StringScale.objects.get(pk=self.scale.pk).a4_hz == 442


def test_a_string_that_would_break_is_said_to():
    from shopflow.compute.strings import scale_figures

    row = draft(49, "700", "16")
    said = doubts(row, scale_figures([services.string_of(row)]).notes[0], [])
    assert any("break before it is at pitch" in words for words in said)


def test_an_inch_shop_reads_inches_in_what_stands_out():
    from shopflow.compute.strings import scale_figures

    rows = [draft(49, "400", "16"), draft(50, "403", "16½")]
    figures = scale_figures([services.string_of(row) for row in rows])
    inches = oddities_in_words(figures, "inch")
    assert any("15.87 in, not shorter than 15.75 in" in words for words in inches)
    assert any("wire of 0.0380 in, thicker than 0.0370 in" in words for words in inches)
    assert "403.0 mm, not shorter than 400.0 mm" in oddities_in_words(figures)[0]
