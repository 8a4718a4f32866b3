"""The pages of a survey, with and without htmx: nothing typed is lost, and nobody sees what another typed."""

from __future__ import annotations

from django.test import TestCase
from django.urls import reverse

from shopflow.catalogue.models import Shop, Units
from shopflow.customers.models import Customer
from shopflow.instruments.models import Finding, GroupLook, Survey, SurveyDraft, SurveyReading
from shopflow.instruments.services import survey as services
from shopflow.photos.models import Photo
from tests import cast
from tests.instruments import survey_cast
from tests.page_forms import fill
from tests.photos import pictures

HTMX = {"HX-Request": "true", "HX-Target": "finding-form"}


class PagesCase(TestCase):
    def setUp(self):
        cast.shop()
        survey_cast.library()
        self.maud, self.finn = cast.manager(), cast.finisher()
        owner = Customer.objects.create(name="Hester Gaunt", phone="0777 123")
        self.piano = cast.instrument(by=self.maud, number="214", customer=owner)
        self.client.force_login(self.finn)

    def url(self, page="survey", *more):
        return reverse(f"instruments:{page}", args=["214", *more])

    def begin(self):
        return survey_cast.begin(self.piano, by=self.finn)

    def shown(self, page="survey", *more):
        answer = self.client.get(self.url(page, *more))
        assert answer.status_code == 200
        return answer.content.decode()

    def find(self, kind="SB2", **typed):
        facts = {"severity": "2", "confidence": "seen"} | typed
        return fill(self.client, self.url("survey-new-finding", "board", kind), facts, has="confidence")


class WalkingThroughTests(PagesCase):
    def test_a_survey_is_begun_written_closed_and_finished_with_plain_forms(self):
        fill(self.client, self.url(), {"place": "in the hall", "room_rh": "43,5"})
        survey = Survey.objects.get()
        assert (survey.place, str(survey.room_rh)) == ("in the hall", "43.5")
        answer = self.find(words="left of the bass bridge", extent="120", extent_unit="mm")
        assert answer.status_code == 302
        assert answer["Location"].endswith("/part/board/#found")
        look = self.client.post(self.url("survey-look", "board"), {"word": "found"})
        assert look["Location"] == self.url("survey-group", "history")
        done = fill(self.client, self.url("survey-finish"), {"why_not": "no time"})
        assert done["Location"] == self.url("survey-report")
        report = self.shown("survey-report")
        assert "left of the bass bridge" in report
        assert report.index("Board") < report.index("What could not be seen")
        assert report.count("not inspected") == 2

    def test_an_inch_shop_reads_the_air_in_fahrenheit(self):
        Shop.objects.update(units=Units.INCH)
        fill(self.client, self.url(), {"room_c": "70", "room_rh": "40"})
        survey = Survey.objects.get()
        assert str(survey.room_c) == "21.1"
        services.finish_survey(survey=survey, by=self.finn, why_not="no time", note="cold and damp hall")
        report = self.shown("survey-report")
        assert "70 °F, 40 % humidity" in report
        assert "cold and damp hall" in report

    def test_the_overview_says_in_words_how_each_part_stands(self):
        survey = self.begin()
        survey_cast.crack(survey, by=self.finn)
        services.say_look(survey=survey, group=survey_cast.part("case"), word="good", by=self.finn)
        shown = self.shown()
        for words in ("good: nothing found", "begun, not closed", "not yet looked at", "<b>1</b> of 3 parts"):
            assert words in shown
        assert f'{self.url("survey-group", "board")}">Go on: Board' in shown

    def test_one_goes_on_where_one_typed_last(self):
        survey = self.begin()
        services.keep_draft(survey=survey, form="history/look", fields={"why": "dark"}, by=self.finn)
        assert "Go on: History" in self.shown()
        self.client.force_login(self.maud)
        assert "Start: Case" in self.shown()

    def test_a_part_shows_what_this_build_can_have(self):
        self.begin()
        assert "Straps perished" in self.shown("survey-group", "case")
        self.piano.kind = "grand"
        self.piano.save()
        shown = self.shown("survey-group", "case")
        assert "Straps perished" not in shown
        assert "grand words" in shown
        missing = self.client.get(self.url("survey-new-finding", "case", "AC6"))
        assert missing.status_code == 404

    def test_no_page_of_a_survey_shows_whose_it_is(self):
        survey = self.begin()
        found = survey_cast.crack(survey, by=self.finn)
        pages = [
            self.shown(),
            self.shown("survey-group", "board"),
            self.shown("survey-finding", found.number),
            self.shown("survey-finish"),
            self.shown("survey-known"),
            self.shown("survey-report"),
        ]
        assert not any("Hester" in page or "0777" in page for page in pages)


class FindingFormTests(PagesCase):
    def setUp(self):
        super().setUp()
        self.survey = self.begin()

    def test_its_grade_is_the_usual_one_until_another_is_chosen(self):
        page = self.client.get(self.url("survey-new-finding", "board", "SB7"))
        assert page.context["form"].initial["severity"] == 4

    def test_a_finding_in_own_words_does_not_say_that_its_name_may_stay_empty(self):
        page = self.client.get(self.url("survey-new-finding", "board", "own"))
        assert page.context["form"].fields["name"].required
        assert "What it is <span" not in page.content.decode()
        answer = self.find("own", name=" ")
        assert answer.status_code == 422
        assert "Write in a few words what it is." in answer.content.decode()

    def test_bad_numbers_are_named_and_what_was_typed_stays(self):
        for odd in ("-3", "1e400", "NaN", "Infinity", "many"):
            answer = self.find(extent=odd, extent_unit="mm", words="kept words")
            assert answer.status_code == 422
            shown = answer.content.decode()
            assert "from 0 to 100000" in shown
            assert "kept words" in shown
        assert not Finding.objects.exists()

    def test_a_decimal_comma_is_understood(self):
        self.find(extent="1,5", extent_unit="mm")
        assert str(Finding.objects.get().extent) == "1.5"

    def test_more_than_all_of_it_is_refused(self):
        assert self.find(extent="89", extent_unit="of-88").status_code == 422
        assert self.find(extent="101", extent_unit="percent").status_code == 422
        assert self.find(extent="12").status_code == 422

    def test_something_else_needs_words(self):
        assert self.find("own", name=" \u200b ").status_code == 422
        self.find("own", name="Key slip bowed")
        found = Finding.objects.get()
        assert (found.name, found.kind) == ("Key slip bowed", None)

    def test_htmx_gets_the_form_back_or_is_led_on(self):
        url = self.url("survey-new-finding", "board", "SB2")
        bad = self.client.post(url, {"severity": "9"}, headers=HTMX)
        assert bad.status_code == 422
        assert "<html" not in bad.content.decode()
        typed = {"severity": "2", "confidence": "seen", "key": "a-form-of-htmx"}
        good = self.client.post(url, typed, headers=HTMX)
        assert good["HX-Redirect"].endswith("#found")

    def test_a_double_tap_is_one_finding(self):
        typed = {"severity": "2", "confidence": "seen", "key": "double-tap-1"}
        url = self.url("survey-new-finding", "board", "SB2")
        answers = [self.client.post(url, typed) for _ in range(3)]
        assert {answer.status_code for answer in answers} == {302}
        assert Finding.objects.count() == 1

    def test_two_who_correct_the_same_see_both_versions(self):
        found = survey_cast.crack(self.survey, by=self.finn)
        url = self.url("survey-finding", found.number)
        seen = self.client.get(url).context["form"].initial["seen"]
        mine = {"severity": "1", "confidence": "seen", "words": "my words", "seen": seen}
        fill(self.client, url, {"severity": "3", "words": "hers"})
        clash = self.client.post(url, mine)
        assert clash.status_code == 409
        shown = clash.content.decode()
        assert "hers" in shown
        assert "my words" in shown
        again = fill_form_of(self.client, clash, url)
        assert again.status_code == 302
        found.refresh_from_db()
        assert (found.severity, found.words) == (1, "my words")

    def test_without_its_mark_a_correction_is_not_taken(self):
        found = survey_cast.crack(self.survey, by=self.finn)
        answer = self.client.post(
            self.url("survey-finding", found.number), {"severity": "1", "confidence": "seen"}
        )
        assert answer.status_code == 422
        found.refresh_from_db()
        assert found.severity == 2

    def test_it_is_struck_and_put_back_in_one_tap_each(self):
        found = survey_cast.crack(self.survey, by=self.finn)
        self.client.post(self.url("survey-finding-button", found.number, "take-back"))
        assert "<s>1 · Crack" in self.shown("survey-group", "board")
        self.client.post(self.url("survey-finding-button", found.number, "put-back"))
        assert "<s>" not in self.shown("survey-group", "board")

    def test_a_form_that_comes_after_the_survey_was_finished_is_shown_with_its_words(self):
        survey_cast.finish(self.survey, by=self.maud)
        url = self.url("survey-new-finding", "board", "SB2")
        typed = {"severity": "2", "confidence": "seen", "key": "a-late-form", "words": "seen late"}
        late = self.client.post(url, typed)
        assert late.status_code == 409
        assert "seen late" in late.content.decode()
        look = self.client.post(self.url("survey-look", "board"), {"word": "not", "why": "too dark"})
        assert look.status_code == 409
        assert "too dark" in look.content.decode()

    def test_a_finding_of_a_finished_survey_is_shown_and_not_offered_for_change(self):
        found = survey_cast.crack(self.survey, by=self.finn, words="as it was seen")
        survey_cast.finish(self.survey, by=self.maud)
        shown = self.shown("survey-finding", found.number)
        assert "as it was seen" in shown
        assert 'name="severity"' not in shown

    def test_a_page_left_open_until_the_survey_was_finished_leads_to_what_there_is(self):
        survey_cast.finish(self.survey, by=self.maud)
        for page in (
            self.url("survey-group", "board"),
            self.url("survey-new-finding", "board", "SB2"),
            self.url("survey-finish"),
        ):
            assert self.client.get(page)["Location"] == self.url()


class LookAndReadingFormTests(PagesCase):
    def setUp(self):
        super().setUp()
        self.survey = self.begin()

    def read(self, value, **typed):
        facts = {"kind": "crown", "value": value, "place": "rib 5", "key": f"read-{value}-key"} | typed
        return self.client.post(self.url("survey-reading", "board"), facts)

    def test_not_inspected_without_a_reason_is_asked_again(self):
        answer = self.client.post(self.url("survey-look", "board"), {"word": "not"})
        assert answer.status_code == 422
        assert "Say why it is not inspected" in answer.content.decode()
        assert not GroupLook.objects.exists()

    def test_a_value_beyond_sense_is_asked_again_with_what_was_typed(self):
        answer = self.read("400")
        assert answer.status_code == 422
        shown = answer.content.decode()
        assert "Measured again?" in shown
        assert 'value="400"' in shown
        assert 'value="rib 5"' in shown
        assert not SurveyReading.objects.exists()
        assert self.read("400", again="1").status_code == 302
        assert SurveyReading.objects.get().measured_again
        assert "beyond what is possible" in self.shown("survey-group", "board")

    def test_odd_values_are_named(self):
        for odd in ("", "-", "1e400", "NaN", "½", "9" * 400, "1,5,5"):
            assert self.read(odd).status_code == 422
        assert not SurveyReading.objects.exists()

    def test_an_inch_shop_types_and_sees_inches(self):
        Shop.objects.update(units=Units.INCH)
        self.client.post(
            self.url("survey-reading", "case"),
            {"kind": "side-play", "value": "0.02", "key": "reading-in-inches"},
        )
        assert str(SurveyReading.objects.get().value) == "0.5080"
        shown = self.shown("survey-group", "case")
        assert "0.0039 to 0.0118 in" in shown
        assert "outside the usual" in shown

    def test_where_experts_agree_on_no_limit_none_is_shown(self):
        self.read("3")
        shown = self.shown("survey-group", "board")
        assert "No agreed limit" in shown
        assert "outside the usual" not in shown

    def test_another_instruments_reading_is_not_to_be_found(self):
        self.read("3")
        other = cast.instrument(by=self.maud, number="215")
        reading = SurveyReading.objects.get()
        url = reverse("instruments:survey-take-back-reading", args=[other.number, reading.pk])
        assert self.client.post(url).status_code == 404


class DraftPageTests(PagesCase):
    def setUp(self):
        super().setUp()
        self.survey = self.begin()

    def keep(self, form="board/finding-SB2", **typed):
        return self.client.post(self.url("survey-draft"), {"draft": form} | typed)

    def test_what_was_typed_is_there_again_for_its_person_alone(self):
        typed = {"words": "under the bass br", "severity": "3", "key": "a-half-form", "extent": "1,5"}
        assert self.keep(**typed).json()["kept_at"]
        shown = self.shown("survey-new-finding", "board", "SB2")
        for piece in ("under the bass br", 'value="1,5"', 'value="a-half-form"'):
            assert piece in shown
        assert "Half done: Crack, open or buzzing" in self.shown("survey-group", "board")
        self.client.force_login(self.maud)
        assert "under the bass br" not in self.shown("survey-new-finding", "board", "SB2")
        assert "Half done" not in self.shown("survey-group", "board")

    def test_saved_it_is_no_draft_any_more_and_a_late_packet_makes_none(self):
        self.keep(words="half", key="a-half-form")
        self.find()
        assert not SurveyDraft.objects.exists()
        assert self.keep(words="half", key=Finding.objects.get().key).json() == {"kept_at": ""}
        assert not SurveyDraft.objects.exists()

    def test_thrown_away_it_is_gone(self):
        self.keep(words="half")
        self.client.post(self.url("survey-draft"), {"draft": "board/finding-SB2", "throw_away": "1"})
        assert not SurveyDraft.objects.exists()

    def test_readings_reasons_corrections_and_alterations_are_kept_too(self):
        found = survey_cast.crack(self.survey, by=self.finn)
        self.keep("board/reading-crown", value="3,2", place="rib 7", key="half-a-reading")
        self.keep("board/look", why="behind the po")
        self.keep(f"board/change-{found.number}", words="corrected hal", seen="x")
        self.keep("known", alterations="new casters, pro")
        board = self.shown("survey-group", "board")
        assert 'value="3,2"' in board
        assert 'value="behind the po"' in board
        assert "corrected hal" in self.shown("survey-finding", found.number)
        assert "new casters, pro" in self.shown("survey-known")

    def test_a_finished_survey_keeps_no_drafts(self):
        survey_cast.finish(self.survey, by=self.maud)
        answer = self.keep(words="half")
        assert answer.status_code == 409
        assert "finished" in answer.json()["words"]


class SecondSurveyPageTests(PagesCase):
    def setUp(self):
        super().setUp()
        first = self.begin()
        self.hidden = survey_cast.crack(first, by=self.finn, confidence="hidden")
        self.plain = survey_cast.crack(first, by=self.finn, words="plain to see")
        self.later = survey_cast.second(self.piano, by=self.finn)

    def test_hidden_ones_are_asked_first_on_the_first_page(self):
        shown = self.shown()
        asked = shown.split("look at these first", 1)[1].split("</section>", 1)[0]
        assert self.url("survey-verdict", self.hidden.number) in asked
        assert self.url("survey-verdict", self.plain.number) not in asked

    def test_one_tap_says_worse_and_the_part_shows_it(self):
        answer = self.client.post(
            self.url("survey-verdict", self.hidden.number), {"verdict": "worse", "from": "whole"}
        )
        assert answer["Location"] == self.url()
        board = self.shown("survey-group", "board")
        assert "worse than thought" in board
        assert "look at these first" not in self.shown()

    def test_finishing_says_who_else_is_in_the_middle_of_a_form(self):
        services.keep_draft(survey=self.later, form="board/look", fields={"why": "da"}, by=self.maud)
        assert f"{self.maud.name} has half-done forms" in self.shown("survey-finish")

    def test_finishing_names_those_without_a_word(self):
        shown = self.shown("survey-finish")
        assert "2 earlier findings without a word" in shown

    def test_not_coming_to_a_part_again_takes_nothing_from_what_was_seen_of_it(self):
        third = survey_cast.second(self.piano, by=self.finn)
        services.say_look(survey=third, group=survey_cast.part("case"), word="good", by=self.finn)
        survey_cast.second(self.piano, by=self.finn)
        survey_cast.finish(self.piano.surveys.get(finished_at=None), by=self.finn)
        report = self.shown("survey-report")
        unseen = report.split("What could not be seen", 1)[1].split("</section>", 1)[0]
        assert "History" in unseen
        assert "Case" not in unseen
        assert "Board" not in unseen

    def test_the_report_shows_the_standing_picture(self):
        services.say_of_earlier(survey=self.later, earlier=self.plain, verdict="not-so", by=self.finn)
        services.say_of_earlier(survey=self.later, earlier=self.hidden, verdict="worse", by=self.finn)
        report = self.shown("survey-report")
        assert "plain to see" not in report
        assert "worse than thought" in report
        assert "not finished yet" in report


class PhotoOfFindingTests(PagesCase):
    def setUp(self):
        super().setUp()
        self.found = survey_cast.crack(self.begin(), by=self.finn)
        self.photos = reverse("photos:of-finding", args=[self.found.pk])

    def send(self, *files):
        typed = {"batch": "6f8e4f0e-7b66-4f0f-9f5e-2d1a3b4c5d6e", "photos": list(files)}
        return self.client.post(self.photos, typed)

    def test_a_photo_is_tied_to_its_finding_and_one_is_back_beside_the_piano(self):
        answer = self.send(pictures.file(pictures.jpeg()))
        assert answer["Location"] == self.url("survey-group", "board") + f"#finding-{self.found.number}"
        photo = Photo.objects.get()
        assert (photo.finding, photo.role, photo.caption) == (self.found, "found", self.found.name)
        assert "copies being made" in self.shown("survey-group", "board")

    def test_sent_twice_it_is_one_photo(self):
        for _ in range(2):
            self.send(pictures.file(pictures.jpeg()))
        assert Photo.objects.count() == 1

    def test_what_is_no_photo_is_refused_in_words(self):
        answer = self.send(pictures.file(b"no photo at all"))
        assert answer.status_code == 422
        assert "photos are JPEG, PNG or WebP" in answer.content.decode()
        assert self.send().status_code == 422
        assert not Photo.objects.exists()


class QueryCountTests(PagesCase):
    def test_pages_ask_as_often_for_many_findings_as_for_few(self):
        survey = self.begin()
        survey_cast.crack(survey, by=self.finn)
        pages = [("survey",), ("survey-group", "board"), ("survey-report",), ("survey-finish",)]
        few = [self.count(*page) for page in pages]
        for _ in range(12):
            survey_cast.crack(survey, by=self.finn)
        assert [self.count(*page) for page in pages] == few
        assert max(few) <= 24

    def count(self, *page):
        from django.db import connection
        from django.test.utils import CaptureQueriesContext

        with CaptureQueriesContext(
            connection,
        ) as asked:
            self.shown(*page)
        return len(asked)


def fill_form_of(client, answer, url):
    """Send the form that this answer shows, as it stands."""
    from tests.page_forms import form_with

    _, fields = form_with(answer.content.decode(), "severity")
    return client.post(url, fields)
