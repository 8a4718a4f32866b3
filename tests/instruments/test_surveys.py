"""Surveys as deeds: begun once, findings written once, nothing called good that nobody saw, then frozen."""

from __future__ import annotations

from decimal import Decimal

import pytest
from django.core.exceptions import PermissionDenied, ValidationError
from django.test import TestCase

from shopflow.catalogue.models import FindingKind, Units
from shopflow.common import pulse
from shopflow.common.refusals import Refused
from shopflow.instruments.models import Finding, GroupLook, Survey, SurveyDraft
from shopflow.instruments.selectors import by_consequence, current_findings
from shopflow.instruments.services import survey as services
from shopflow.people.edits import ChangedMeanwhile, mark_of
from tests import cast
from tests.instruments import survey_cast


class SurveyCase(TestCase):
    def setUp(self):
        survey_cast.library()
        self.maud, self.finn, self.stray = cast.manager(), cast.finisher(), cast.stranger()
        self.piano = cast.instrument(by=self.maud, number="214")
        self.survey = survey_cast.begin(self.piano, by=self.finn)
        self.board = survey_cast.part("board")
        self.case = survey_cast.part("case")

    def crack(self, **given):
        return survey_cast.crack(given.pop("survey", self.survey), by=given.pop("by", self.finn), **given)

    def look(self, word, why="", group=None):
        return services.say_look(
            survey=self.survey, group=group or self.board, word=word, why=why, by=self.finn
        )


class BeginningTests(SurveyCase):
    def test_a_stranger_begins_nothing_and_finds_nothing(self):
        for deed in (
            lambda: survey_cast.begin(self.piano, by=self.stray),
            lambda: self.crack(by=self.stray),
            lambda: services.finish_survey(survey=self.survey, by=self.stray, why_not="no"),
            lambda: services.keep_draft(survey=self.survey, form="known", fields={}, by=self.stray),
        ):
            with pytest.raises(PermissionDenied):
                deed()

    def test_begun_twice_it_is_the_same_survey(self):
        assert survey_cast.begin(self.piano, by=self.maud) == self.survey
        assert Survey.objects.count() == 1

    def test_there_is_only_one_survey_before_the_work(self):
        survey_cast.finish(self.survey, by=self.finn)
        with pytest.raises(Refused) as refused:
            survey_cast.begin(self.piano, by=self.finn)
        assert refused.value.field == "occasion"
        later = survey_cast.begin(self.piano, by=self.finn, occasion=Survey.Occasion.TEARDOWN)
        assert later.number == 2


class FindingTests(SurveyCase):
    def test_a_finding_of_the_library_bears_its_name_and_the_instruments_next_number(self):
        first, second = self.crack(), self.crack()
        assert (first.number, second.number) == (1, 2)
        assert first.name == "Crack, open or buzzing"

    def test_the_same_form_sent_twice_is_one_finding(self):
        assert self.crack(key="one-form-1") == self.crack(key="one-form-1")
        assert Finding.objects.count() == 1

    def test_the_same_form_with_other_words_is_refused(self):
        self.crack(key="one-form-1")
        with pytest.raises(Refused):
            self.crack(key="one-form-1", severity=4)
        assert Finding.objects.get().severity == 2

    def test_a_grade_beyond_four_and_an_extent_below_nought_are_refused(self):
        for wrong in ({"severity": 5}, {"severity": -1}, {"extent": Decimal(-3), "extent_unit": "mm"}):
            with pytest.raises(ValidationError):
                self.crack(**wrong)
        assert not Finding.objects.exists()

    def test_a_kind_of_another_part_or_another_build_is_refused(self):
        with pytest.raises(Refused):
            self.crack(group=self.case)
        grand = cast.instrument(by=self.maud, kind="grand")
        straps = FindingKind.objects.get(code="AC6")
        with pytest.raises(Refused):
            self.crack(survey=survey_cast.begin(grand, by=self.finn), kind=straps, group=self.case)

    def test_a_finding_is_corrected_and_its_words_keep_who_wrote_it(self):
        found = self.crack()
        services.change_finding(
            finding=found,
            facts={"severity": 3, "words": "left of the bass bridge"},
            seen=mark_of(services.facts_of(found)),
            by=self.maud,
        )
        found.refresh_from_db()
        assert (found.severity, found.words, found.by) == (3, "left of the bass bridge", self.finn)

    def test_the_second_to_correct_sees_what_the_first_wrote(self):
        found = self.crack()
        seen = mark_of(services.facts_of(found))
        services.change_finding(finding=found, facts={"severity": 3}, seen=seen, by=self.maud)
        with pytest.raises(ChangedMeanwhile) as clash:
            services.change_finding(finding=found, facts={"severity": 1}, seen=seen, by=self.finn)
        assert clash.value.now["severity"] == "3"
        services.change_finding(finding=found, facts={"severity": 3}, seen=seen, by=self.finn)

    def test_taken_back_it_stays_in_the_records_and_counts_no_more(self):
        found = self.crack()
        services.take_back(finding=found, by=self.maud)
        services.take_back(finding=found, by=self.maud)
        assert Finding.objects.get().taken_back_at is not None
        assert current_findings(self.piano) == []
        services.put_back(finding=found, by=self.maud)
        assert [one.number for one in current_findings(self.piano)] == [1]

    def test_after_one_is_taken_back_its_number_is_not_given_again(self):
        services.take_back(finding=self.crack(), by=self.finn)
        assert self.crack().number == 2


class LookTests(SurveyCase):
    def test_nothing_found_is_not_said_over_findings(self):
        self.crack()
        for word in ("good", "not"):
            with pytest.raises(Refused):
                self.look(word, "because")

    def test_not_inspected_and_partly_need_a_reason(self):
        for word in ("not", "partly"):
            with pytest.raises(Refused) as refused:
                self.look(word)
            assert refused.value.field == "why"

    def test_that_is_all_needs_something_found(self):
        with pytest.raises(Refused):
            self.look("found")

    def test_an_unknown_word_is_refused(self):
        with pytest.raises(Refused):
            self.look("splendid")

    def test_a_finding_in_a_part_called_good_makes_it_found_and_back_again(self):
        look = self.look("good")
        found = self.crack()
        look.refresh_from_db()
        assert look.word == GroupLook.Word.FOUND
        services.take_back(finding=found, by=self.finn)
        look.refresh_from_db()
        assert look.word == GroupLook.Word.GOOD

    def test_a_finding_in_a_part_not_inspected_makes_it_partly_seen_never_good(self):
        look = self.look("not", "behind the plate")
        self.crack()
        look.refresh_from_db()
        assert (look.word, look.why) == (GroupLook.Word.PARTLY, "behind the plate")

    def test_the_last_word_counts(self):
        self.look("good")
        self.look("not", "against the wall")
        assert GroupLook.objects.get().word == GroupLook.Word.NOT


class FinishingTests(SurveyCase):
    def finish(self, **given):
        return services.finish_survey(survey=self.survey, by=self.finn, **given)

    def test_what_nobody_looked_at_is_named_and_needs_a_reason(self):
        self.look("good")
        with pytest.raises(Refused) as refused:
            self.finish()
        assert "Case, History" in refused.value.message
        assert Survey.objects.get().finished_at is None

    def test_one_reason_calls_all_of_it_not_inspected_and_nothing_good(self):
        self.look("good")
        self.finish(why_not="no time")
        words = dict(self.survey.looks.values_list("group__code", "word"))
        assert words == {"board": "good", "case": "not", "history": "not"}

    def test_what_was_begun_is_said_to_be_all_or_partly(self):
        self.crack()
        with pytest.raises(Refused) as refused:
            self.finish(why_not="no time")
        assert refused.value.field == "begun_word"
        with pytest.raises(Refused) as refused:
            self.finish(why_not="no time", begun_word="partly")
        assert refused.value.field == "begun_why"
        self.finish(why_not="no time", begun_word="partly", begun_why="behind the posts")
        look = self.survey.looks.get(group=self.board)
        assert (look.word, look.why) == ("partly", "behind the posts")

    def test_finished_twice_it_was_finished_once(self):
        first = self.finish(why_not="no time").finished_at
        assert self.finish(why_not="another reason").finished_at == first
        assert {look.why for look in self.survey.looks.all()} == {"no time"}

    def test_a_finished_survey_is_changed_by_nothing(self):
        found = self.crack()
        reading = self.reading("1.5")
        self.finish(why_not="no time", begun_word="found")
        deeds = [
            lambda: self.crack(),
            lambda: services.take_back(finding=found, by=self.finn),
            lambda: services.change_finding(finding=found, facts={"severity": 4}, seen="x", by=self.finn),
            lambda: self.look("good"),
            lambda: self.reading("2"),
            lambda: services.take_back_reading(reading=reading, by=self.finn),
            lambda: services.keep_draft(survey=self.survey, form="known", fields={"a": "b"}, by=self.finn),
        ]
        for deed in deeds:
            with pytest.raises(Refused) as refused:
                deed()
            assert refused.value.status == 409

    def reading(self, typed):
        crown = self.board.reading_kinds.get()
        return services.add_reading(
            survey=self.survey, kind=crown, typed=Decimal(typed), units=Units.METRIC, by=self.finn
        )


class ReadingTests(SurveyCase):
    def read(self, typed, *, code="crown", group=None, units=Units.METRIC, **given):
        kind = (group or self.board).reading_kinds.get(code=code)
        return services.add_reading(
            survey=self.survey, kind=kind, typed=Decimal(typed), units=units, by=self.finn, **given
        )

    def test_it_is_kept_as_typed_and_in_millimetres(self):
        taken = self.read("0.25", units=Units.INCH, place="rib 5")
        assert (taken.typed, taken.unit, taken.value) == ("0.25", "in", Decimal("6.3500"))

    def test_beyond_physical_sense_it_asks_and_is_kept_marked_only_after_a_yes(self):
        with pytest.raises(services.BeyondPossible) as asked:
            self.read("64")
        assert "possible is −20 to 40 mm" in asked.value.message
        assert not self.survey.readings.exists()
        assert self.read("64", measured_again=True).measured_again
        assert not self.read("5", measured_again=True).measured_again

    def test_a_unit_mixed_up_is_caught_in_inches_too(self):
        with pytest.raises(services.BeyondPossible) as asked:
            self.read("6", units=Units.INCH)
        assert "in" in asked.value.message

    def test_sent_twice_it_is_one_reading(self):
        assert self.read("3", key="reading-1") == self.read("3", key="reading-1")
        with pytest.raises(Refused):
            self.read("4", key="reading-1")

    def test_taken_back_it_stays_in_the_records(self):
        taken = services.take_back_reading(reading=self.read("3"), by=self.finn)
        assert taken.taken_back_at is not None


class SecondSurveyTests(SurveyCase):
    def setUp(self):
        super().setUp()
        self.found = self.crack(confidence="hidden")
        self.later = survey_cast.second(self.piano, by=self.finn)

    def say(self, verdict, earlier=None):
        return services.say_of_earlier(
            survey=self.later, earlier=earlier or self.found, verdict=verdict, by=self.finn
        )

    def now(self):
        return [(one.number, one.severity, one.verdict) for one in current_findings(self.piano)]

    def test_worse_and_less_move_the_grade_beside_the_first_and_never_over_it(self):
        self.say("worse")
        assert self.now() == [(1, 3, "worse")]
        self.found.refresh_from_db()
        assert (self.found.severity, self.found.verdict) == (2, "")
        self.say("less")
        assert self.now() == [(1, 1, "less")]
        assert self.later.findings.count() == 1

    def test_a_grade_stays_between_nought_and_four(self):
        grave = self.crack(survey=self.later, severity=4)
        third = survey_cast.second(self.piano, by=self.finn)
        word = services.say_of_earlier(survey=third, earlier=grave, verdict="worse", by=self.finn)
        assert word.severity == 4

    def test_not_so_after_all_withdraws_it_until_that_is_taken_back(self):
        word = self.say("not-so")
        self.found.refresh_from_db()
        assert self.found.state == Finding.State.WITHDRAWN
        assert self.now() == []
        services.take_back(finding=word, by=self.finn)
        self.found.refresh_from_db()
        assert self.found.state == Finding.State.OPEN
        assert self.now() == [(1, 2, "")]

    def test_another_word_after_not_so_opens_it_again(self):
        self.say("not-so")
        self.say("as-before")
        self.found.refresh_from_db()
        assert self.found.state == Finding.State.OPEN
        assert self.now() == [(1, 2, "as-before")]

    def test_work_that_was_agreed_on_keeps_its_state_but_leaves_the_picture(self):
        Finding.objects.filter(pk=self.found.pk).update(state=Finding.State.IN_WORK)
        self.say("not-so")
        self.found.refresh_from_db()
        assert self.found.state == Finding.State.IN_WORK
        assert self.now() == []

    def test_nothing_found_waits_until_each_earlier_finding_has_its_word(self):
        def nothing_found():
            return services.say_look(survey=self.later, group=self.board, word="good", by=self.finn)

        with pytest.raises(Refused) as refused:
            nothing_found()
        assert "1" in refused.value.message
        self.say("as-before")
        with pytest.raises(Refused):
            nothing_found()
        self.say("not-so")
        assert nothing_found().word == GroupLook.Word.GOOD
        self.say("worse")
        assert self.later.looks.get().word == GroupLook.Word.FOUND

    def test_finished_after_not_so_after_all_nothing_is_found_there(self):
        self.say("not-so")
        survey_cast.finish(self.later, by=self.finn)
        words = dict(self.later.looks.values_list("group__code", "word"))
        assert words == {"board": "good", "case": "not", "history": "not"}

    def test_of_three_surveys_the_last_word_counts(self):
        self.say("worse")
        third = survey_cast.second(self.piano, by=self.finn)
        services.say_of_earlier(survey=third, earlier=self.found, verdict="worse", by=self.finn)
        assert self.now() == [(1, 4, "worse")]

    def test_words_about_its_own_findings_or_another_instruments_are_refused(self):
        own = self.crack(survey=self.later)
        other = self.crack(survey=survey_cast.begin(cast.instrument(by=self.maud), by=self.finn))
        for wrong in (own, other):
            with pytest.raises(Refused):
                self.say("worse", wrong)
        with pytest.raises(Refused):
            self.say("splendid")

    def test_the_standing_picture_takes_one_query_however_many_there_are(self):
        for _ in range(8):
            self.crack(survey=self.later)
        with self.assertNumQueries(1):
            assert len([one.weights for one in current_findings(self.piano)]) == 9

    def test_what_is_unsafe_comes_first(self):
        rotten = FindingKind.objects.get(code="SB7")
        self.crack(survey=self.later, kind=rotten, severity=4)
        lid = FindingKind.objects.get(code="CA5")
        self.crack(survey=self.later, kind=lid, group=self.case, severity=4)
        order = [one.name for one in by_consequence(current_findings(self.piano))]
        assert order == ["Lid pins missing", "Panel rotten", "Crack, open or buzzing"]


class DraftTests(SurveyCase):
    def keep(self, by=None, form="board/finding-SB2", **fields):
        return services.keep_draft(
            survey=self.survey, form=form, fields={"words": "half", **fields}, by=by or self.finn
        )

    def test_each_person_has_a_draft_of_its_own(self):
        self.keep(words="Finn's")
        self.keep(self.maud, words="Maud's")
        self.keep(words="Finn's again")
        kept = {(draft.by, draft.fields["words"]) for draft in SurveyDraft.objects.all()}
        assert kept == {(self.finn, "Finn's again"), (self.maud, "Maud's")}

    def test_a_late_packet_does_not_bring_back_what_was_saved(self):
        self.crack(key="one-form-1")
        assert self.keep(key="one-form-1") is None
        assert not SurveyDraft.objects.exists()

    def test_emptied_it_goes_away(self):
        self.keep()
        self.keep(words="", key="one-form-2")
        assert not SurveyDraft.objects.exists()

    def test_odd_names_are_refused_and_odd_letters_cleaned(self):
        for form in ("", "x" * 61, "a b", "../x\n"):
            with pytest.raises(Refused):
                self.keep(form=form)
        assert self.keep(words="a\0b\ud800\u202ec").fields["words"] == "abc"
        assert len(self.keep(words="x" * 90_000).fields["words"]) == 2000

    def test_there_are_not_more_than_so_many(self):
        SurveyDraft.objects.bulk_create(
            SurveyDraft(survey=self.survey, by=self.finn, form=f"board/finding-{n}") for n in range(200)
        )
        with pytest.raises(Refused):
            self.keep(form="known")


class KnownTests(SurveyCase):
    def write(self, by=None, seen=None, **facts):
        wanted = services.known_of(self.piano) | facts
        return services.write_known(
            instrument=self.piano,
            facts=wanted,
            seen=seen or mark_of(services.known_of(self.piano)),
            by=by or self.finn,
        )

    def test_it_is_written_into_the_instrument_and_the_boards_hear_of_it(self):
        before, version = pulse.current(), self.piano.version
        self.write(fragile="music desk is cracked")
        self.piano.refresh_from_db()
        assert self.piano.fragile == "music desk is cracked"
        assert self.piano.version == version + 1
        assert pulse.current() > before

    def test_the_second_to_write_sees_what_the_first_wrote(self):
        seen = mark_of(services.known_of(self.piano))
        self.write(fragile="music desk is cracked")
        with pytest.raises(ChangedMeanwhile):
            self.write(by=self.maud, seen=seen, fragile="lid")
