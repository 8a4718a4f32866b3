"""What was done in the present stay, and what stands open."""

from __future__ import annotations

from datetime import timedelta

from django.test import TestCase

from shopflow.common import clock
from shopflow.instruments.models import Survey
from shopflow.workshop.models import Move
from shopflow.workshop.selectors.stay import stay_of, stays_of
from shopflow.workshop.services import layout, moves, passages
from tests import cast


class StayCase(TestCase):
    def setUp(self):
        cast.shop()
        self.maud, self.finn = cast.manager(), cast.finisher()
        self.piano = cast.instrument(by=self.maud)
        self.strip, self.colour, self.polish = (
            cast.operation(code) for code in ("strip", "colour", "polish")
        )

    def task(self, operation):
        return cast.task(operation, on=self.piano, by=self.maud)

    def undo_last_of(self, piece):
        last = Move.objects.filter(task=piece).last()
        assert moves.undo_move(move_id=last.pk, by=self.maud, tap=cast.tap(self.maud)).status == 200


class DoneTests(StayCase):
    def test_it_stands_in_the_order_of_signing_not_of_the_list(self):
        first, second = self.task(self.strip), self.task(self.colour)
        cast.walk(second, by=self.finn)
        cast.walk(first, by=self.finn)
        assert stay_of(self.piano).done == ("colour", "strip")

    def test_what_is_in_hand_is_not_done(self):
        piece = self.task(self.strip)
        cast.walk(piece, by=self.finn, until="proving")
        stay = stay_of(self.piano)
        assert (stay.done, stay.todo) == ((), ("strip",))

    def test_an_undone_signature_does_not_count(self):
        piece = self.task(self.strip)
        cast.walk(piece, by=self.finn)
        self.undo_last_of(piece)
        stay = stay_of(self.piano)
        assert (stay.done, stay.todo) == ((), ("strip",))

    def test_a_going_back_that_was_undone_leaves_the_first_signature_in_its_place(self):
        first, second = self.task(self.strip), self.task(self.colour)
        cast.walk(first, by=self.finn)
        assert cast.send(first, "proving", by=self.maud, reason="looked again").status == 200
        cast.walk(second, by=self.finn)
        self.undo_last_of(first)
        assert stay_of(self.piano).done == ("strip", "colour")

    def test_signed_anew_it_counts_from_the_new_signature(self):
        first, second = self.task(self.strip), self.task(self.colour)
        cast.walk(first, by=self.finn)
        cast.walk(second, by=self.finn)
        assert cast.send(first, "proving", by=self.maud, reason="not good enough").status == 200
        assert stay_of(self.piano).done == ("colour",)
        cast.walk(first, by=self.finn)
        assert stay_of(self.piano).done == ("colour", "strip")

    def test_the_same_work_done_twice_stands_there_twice(self):
        for _ in range(2):
            cast.walk(self.task(self.strip), by=self.finn)
        assert stay_of(self.piano).done == ("strip", "strip")

    def test_an_older_stay_does_not_count(self):
        cast.walk(self.task(self.strip), by=self.finn)
        passages.let_leave(instrument=self.piano, by=self.maud)
        self.piano.refresh_from_db()
        with clock.at(clock.now() + timedelta(days=30)):
            passages.arrive(instrument=self.piano, on=clock.today(), by=self.maud)
            assert stay_of(self.piano).is_empty
            cast.walk(self.task(self.colour), by=self.finn)
            assert stay_of(self.piano).done == ("colour",)

    def test_work_in_own_words_is_open_work_without_a_code(self):
        piece = self.task(self.strip)
        piece.operation = None
        piece.save()
        stay = stay_of(self.piano)
        assert (stay.todo, len(stay.open_tasks)) == ((), 1)

    def test_dropped_work_is_neither_done_nor_open(self):
        layout.drop_task(task=self.task(self.strip), by=self.maud, reason="kept")
        assert stay_of(self.piano).is_empty


class ComingInTests(StayCase):
    def setUp(self):
        super().setUp()
        self.receive, self.survey = cast.operation("receive"), cast.operation("survey")

    def look_over(self):
        Survey.objects.create(
            instrument=self.piano, number=1, by=self.maud, finished_at=clock.now(), occasion="first"
        )

    def test_before_there_is_a_job_only_a_finished_look_counts(self):
        assert stay_of(self.piano).done == ()
        self.look_over()
        assert stay_of(self.piano).done == ("survey",)

    def test_a_job_without_tasks_for_it_does_not_wait_for_it(self):
        cast.walk(self.task(self.strip), by=self.finn)
        assert stay_of(self.piano).done == ("receive", "survey", "strip")

    def test_where_the_job_has_a_task_for_it_its_signature_counts(self):
        self.look_over()
        piece = self.task(self.survey)
        assert stay_of(self.piano).done == ("receive",)
        cast.walk(piece, by=self.finn)
        assert stay_of(self.piano).done == ("receive", "survey")

    def test_a_look_of_an_older_stay_does_not_count(self):
        self.look_over()
        passages.let_leave(instrument=self.piano, by=self.maud, reason="as it is")
        self.piano.refresh_from_db()
        with clock.at(clock.now() + timedelta(days=30)):
            passages.arrive(instrument=self.piano, on=clock.today(), by=self.maud)
            assert stay_of(self.piano).done == ()


class ManyTests(StayCase):
    def test_many_are_told_in_the_queries_of_one(self):
        pianos = [self.piano, *(cast.instrument(by=self.maud) for _ in range(4))]
        for piano in pianos:
            cast.walk(cast.task(self.strip, on=piano, by=self.maud), by=self.finn)
            cast.task(self.colour, on=piano, by=self.maud)
        with self.assertNumQueries(5):
            stays = stays_of(pianos)
            told = {(stay.done, stay.todo) for stay in stays.values()}
        assert told == {(("strip",), ("colour",))}
        assert set(stays) == {piano.pk for piano in pianos}

    def test_only_what_is_known_of_the_kind(self):
        cast.walk(self.task(self.strip), by=self.finn)
        self.task(self.colour)
        stay = stay_of(self.piano).among({"colour"})
        assert (stay.done, stay.todo) == ((), ("colour",))
