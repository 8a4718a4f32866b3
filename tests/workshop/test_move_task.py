from __future__ import annotations

import pytest
from django.core.exceptions import PermissionDenied

from shopflow.common import pulse
from shopflow.people.taps import KeyUsedTwice
from shopflow.workshop.models import Move, Passage, Snag, TaskNeed
from shopflow.workshop.services import moves, snags
from tests import cast

pytestmark = [pytest.mark.django_db, pytest.mark.data_layer]


@pytest.fixture
def maud():
    return cast.manager()


@pytest.fixture
def finn():
    return cast.finisher()


@pytest.fixture
def strip(maud):
    piano = cast.instrument(by=maud)
    return cast.task(cast.operation("strip"), on=piano, by=maud)


def test_a_stranger_moves_nothing(strip):
    with pytest.raises(PermissionDenied):
        cast.send(strip, "stripped", by=cast.stranger())
    assert not Move.objects.exists()


def test_a_hand_of_another_bench_moves_nothing(strip):
    plater = cast.finisher("Pia Orme", home=cast.department("plating"))
    with pytest.raises(PermissionDenied):
        cast.send(strip, "stripped", by=plater)


def test_a_stage_marked_done_is_one_line_and_its_projection(strip, finn):
    before = pulse.current()
    answer = cast.send(strip, "stripped", by=finn)
    strip.refresh_from_db()
    move = Move.objects.get()
    assert answer.status == 200
    assert (move.origin.code, move.target.code, move.by) == ("rack", "stripped", finn)
    assert strip.stage.code == "stripped"
    assert strip.stage_since == move.recorded_at
    assert pulse.current() > before


def test_the_same_tap_again_gets_the_same_answer_and_no_second_line(strip, finn):
    first = cast.send(strip, "stripped", by=finn, seen="rack", key="k" * 12)
    again = cast.send(strip, "stripped", by=finn, seen="rack", key="k" * 12)
    assert again.said == first.said
    assert again.status == 200
    assert again.replayed
    assert Move.objects.count() == 1


def test_the_same_key_with_another_body_is_refused(strip, finn):
    cast.send(strip, "stripped", by=finn, key="k" * 12)
    with pytest.raises(KeyUsedTwice):
        cast.send(strip, "built-up", by=finn, key="k" * 12)
    assert Move.objects.count() == 1


def test_two_people_may_use_the_same_key(strip, finn):
    cast.send(strip, "stripped", by=finn, key="k" * 12)
    other = cast.finisher("Greta Lunt")
    assert cast.send(strip, "built-up", by=other, key="k" * 12).status == 200


def test_a_stale_page_is_told_who_moved_it_and_whereto(strip, finn):
    cast.send(strip, "stripped", by=finn)
    other = cast.finisher("Greta Lunt")
    answer = cast.send(strip, "stripped", by=other, seen="rack")
    assert answer.status == 409
    assert answer.said["who"] == "Finn Tarrow"
    assert answer.said["where"] == "stripped"
    assert "Nothing was changed" in answer.said["refused"]
    assert Move.objects.count() == 1


def test_a_refusal_is_repeated_for_the_same_key_even_after_the_way_is_clear(strip, finn):
    refused = cast.send(strip, "hardening", by=finn, key="k" * 12)
    again = cast.send(strip, "hardening", by=finn, key="k" * 12)
    assert refused.status == again.status == 422
    assert again.said == refused.said


def test_a_skipped_stage_is_named(strip, finn):
    answer = cast.send(strip, "hardening", by=finn)
    assert answer.status == 422
    assert "“stripped” comes before “hardening”" in answer.said["refused"]


def test_a_stage_of_another_path_is_refused_with_the_stages_there_are(strip, finn):
    plating = cast.department("plating")
    answer = moves.move_task(
        task_id=strip.pk,
        to_stage_id=plating.stages.first().pk,
        seen_stage_id=strip.stage_id,
        by=finn,
        tap=cast.tap(finn),
    )
    assert answer.status == 422
    assert "“built up”" in answer.said["refused"]


def test_work_stays_on_the_rack_while_what_it_needs_is_unfinished(strip, finn, maud):
    sand = cast.task(cast.operation("sand"), on=strip.instrument, by=maud, needs=[strip])
    answer = cast.send(sand, "stripped", by=finn)
    assert answer.status == 422
    assert "It waits for “Strip” in Refinishing" in answer.said["refused"]
    cast.walk(strip, by=finn)
    assert cast.send(sand, "stripped", by=finn).status == 200


def test_a_manager_goes_past_the_order_with_a_reason_that_is_kept(strip, finn, maud):
    sand = cast.task(cast.operation("sand"), on=strip.instrument, by=maud, needs=[strip])
    assert cast.send(sand, "stripped", by=maud, override=True).status == 422
    answer = cast.send(sand, "stripped", by=maud, override=True, reason="loose leg, sanded apart")
    move = Move.objects.get(task=sand)
    assert answer.status == 200
    assert move.overrode
    assert move.reason == "loose leg, sanded apart"


def test_a_hand_cannot_go_past_the_order(strip, finn):
    with pytest.raises(PermissionDenied):
        cast.send(strip, "hardening", by=finn, override=True, reason="in a hurry")


def test_going_back_needs_a_reason(strip, finn):
    cast.walk(strip, by=finn, until="built-up")
    assert cast.send(strip, "stripped", by=finn).status == 422
    assert cast.send(strip, "stripped", by=finn, reason="old lacquer left in the flutes").status == 200


def test_a_snag_stops_a_task_until_it_is_cleared(strip, finn):
    from shopflow.common import clock

    snag = snags.raise_snag(
        task=strip, cause=Snag.Cause.CUSTOMER, reason="colour not chosen", ask_again_on=clock.today(), by=finn
    )
    answer = cast.send(strip, "stripped", by=finn)
    assert answer.status == 422
    assert "colour not chosen" in answer.said["refused"]
    snags.clear_snag(snag=snag, by=finn)
    assert cast.send(strip, "stripped", by=finn).status == 200


def test_a_stage_that_asks_for_second_eyes_is_not_passed_by_the_one_who_did_the_work(strip, finn):
    proving = cast.stage(strip, "proving")
    proving.needs_second_eyes = True
    proving.save()
    cast.walk(strip, by=finn, until="proving")
    assert "second pair of eyes" in cast.send(strip, "signed", by=finn).said["refused"]
    assert cast.send(strip, "signed", by=cast.finisher("Greta Lunt")).status == 200


def test_undo_is_a_new_line_and_brings_the_task_back(strip, finn):
    move_id = cast.send(strip, "stripped", by=finn).said["move"]
    answer = moves.undo_move(move_id=move_id, by=finn, tap=cast.tap(finn))
    strip.refresh_from_db()
    assert answer.status == 200
    assert strip.stage.code == "rack"
    assert Move.objects.count() == 2
    assert Move.objects.last().undoes_id == move_id


def test_only_the_last_move_is_undone(strip, finn):
    first = cast.send(strip, "stripped", by=finn).said["move"]
    cast.send(strip, "built-up", by=finn)
    assert moves.undo_move(move_id=first, by=finn, tap=cast.tap(finn)).status == 409


def test_someone_elses_move_is_undone_by_a_manager_only(strip, finn, maud):
    move_id = cast.send(strip, "stripped", by=finn).said["move"]
    other = cast.finisher("Greta Lunt")
    assert moves.undo_move(move_id=move_id, by=other, tap=cast.tap(other)).status == 422
    assert moves.undo_move(move_id=move_id, by=maud, tap=cast.tap(maud)).status == 200


def test_a_ledger_line_can_be_neither_changed_nor_taken_away(strip, finn):
    cast.send(strip, "stripped", by=finn)
    move = Move.objects.get()
    for forbidden in (move.save, move.delete, Move.objects.all().delete):
        with pytest.raises(TypeError):
            forbidden()
    with pytest.raises(TypeError):
        Move.objects.update(reason="never happened")


def test_the_last_signature_finishes_the_instrument_and_its_undo_opens_it_again(strip, finn):
    cast.walk(strip, by=finn)
    strip.instrument.refresh_from_db()
    assert strip.instrument.finished_on is not None
    last = Move.objects.last()
    moves.undo_move(move_id=last.pk, by=finn, tap=cast.tap(finn))
    strip.instrument.refresh_from_db()
    assert strip.instrument.finished_on is None
    kinds = list(Passage.objects.values_list("kind", flat=True))
    assert kinds == ["arrived", "finished", "reopened"]


def test_a_signature_that_others_built_on_is_undone_by_a_manager_only(strip, finn, maud):
    sand = cast.task(cast.operation("sand"), on=strip.instrument, by=maud)
    TaskNeed.objects.create(task=sand, needs=strip)
    cast.walk(strip, by=finn)
    signing = Move.objects.last()
    cast.send(sand, "stripped", by=finn)
    assert moves.undo_move(move_id=signing.pk, by=finn, tap=cast.tap(finn)).status == 422
    assert moves.undo_move(move_id=signing.pk, by=maud, tap=cast.tap(maud)).status == 200


def test_a_task_that_nobody_moved_yet_agrees_with_the_ledger(strip):
    assert moves.projection_differences() == []
