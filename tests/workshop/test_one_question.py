"""May this task take this step now: one answer for taps, for the rows of a bench and for work brought in."""

from __future__ import annotations

import random
from datetime import timedelta

import pytest
from django.test import Client

from shopflow.catalogue.models import Stage
from shopflow.common import clock
from shopflow.common.refusals import Refused
from shopflow.workshop.models import Move, Task
from shopflow.workshop.selectors.bench_rows import bench_rows
from shopflow.workshop.services import in_bulk, layout, moves, passages
from shopflow.workshop.services.order import Sort
from tests import cast

from .small_belly import small_belly

pytestmark = pytest.mark.django_db


@pytest.fixture
def ops():
    cast.shop()
    return small_belly()


@pytest.fixture
def maud(ops):
    return cast.manager()


@pytest.fixture
def finn(ops):
    return cast.finisher()


@pytest.fixture
def piano(maud):
    return cast.instrument(by=maud, number="214")


@pytest.fixture
def job(piano, ops, maud):
    """The bridge repinned, keys bushed, the case polished: by code."""
    wanted = [ops[code] for code in ("repin", "bush", "polish")]
    tasks = layout.lay_out(instrument=piano, operations=wanted, by=maud)
    return {task.operation.code: task for task in tasks}


def row_of(task, viewer):
    return bench_rows(Task.objects.filter(pk=task.pk), viewer=viewer)[0]


def sorts(task, viewer):
    return [one.sort for one in row_of(task, viewer).in_the_way]


def step_on(task, by, **given):
    """One tap to the next stage, as the row of the bench offers it."""
    task.refresh_from_db()
    following = task.path[task.path.index(task.stage_id) + 1]
    return moves.move_task(
        task_id=task.pk, to_stage_id=following, seen_stage_id=task.stage_id, by=by, tap=cast.tap(by), **given
    )


# --- the state of the piano ---


def test_a_job_that_the_state_forbids_cannot_start_even_without_ties(job, finn):
    job["repin"].needs.all().delete()
    answer = step_on(job["repin"], finn)
    assert answer.status == 422
    assert "Unstring" in answer.said["refused"]
    assert sorts(job["repin"], finn) == [Sort.STATE]
    cast.walk(job["unstring"], by=finn)
    assert step_on(job["repin"], finn).status == 200


def test_work_undone_closes_the_way_again(job, finn, maud):
    cast.walk(job["unstring"], by=finn)
    last = Move.objects.filter(task=job["unstring"]).last()
    assert moves.undo_move(move_id=last.pk, by=maud, tap=cast.tap(maud)).status == 200
    job["repin"].needs.all().delete()
    assert step_on(job["repin"], finn).status == 422


def test_a_manager_goes_past_the_state_with_a_reason_that_the_ledger_keeps(job, maud):
    job["repin"].needs.all().delete()
    assert step_on(job["repin"], maud, override=True).status == 422
    assert step_on(job["repin"], maud, override=True, reason="strings came off at the owner's").status == 200
    assert Move.objects.get(task=job["repin"]).overrode


# --- one body in one place ---


def test_two_tasks_never_have_one_body_in_hand(job, finn):
    assert step_on(job["unstring"], finn).status == 200
    answer = step_on(job["action-out"], finn)
    assert answer.status == 422
    assert "“Unstring” in Refinishing has the back and case" in answer.said["refused"]
    row = row_of(job["action-out"], finn)
    assert [one.sort for one in row.in_the_way] == [Sort.PLACE]
    assert row.in_the_way[0].frees == "Free once “Unstring” lets go of it."
    assert step_on(job["polish"], finn).status == 200, "the loose parts lie elsewhere"


def test_a_rest_that_holds_keeps_the_part_and_another_lets_go(job, ops, finn, maud):
    for code in ("action-out", "unstring"):
        cast.walk(job[code], by=finn)
    cast.walk(job["bush"], by=finn, until="hardening")
    keys = cast.task(ops["bush"], on=job["bush"].instrument, by=maud)
    assert sorts(keys, finn) == [Sort.PLACE]
    cast.says(ops["bush"], at=["keys"], needs={"action": "at most out"})
    assert sorts(keys, finn) == []


def test_back_on_the_bench_from_a_rest_needs_the_place_again(job, ops, finn):
    cast.says(ops["polish"], at=["body"])
    cast.walk(job["polish"], by=finn, until="hardening")
    assert step_on(job["unstring"], finn).status == 200
    assert sorts(job["polish"], finn) == [Sort.PLACE]
    assert step_on(job["polish"], finn).status == 422
    cast.walk(job["unstring"], by=finn)
    assert step_on(job["polish"], finn).status == 200


def test_own_words_hold_the_whole_case_or_what_was_said(job, ops, finn, maud):
    own = cast.task(ops["polish"], on=job["polish"].instrument, by=maud)
    own.operation = None
    own.save()
    assert step_on(job["unstring"], finn).status == 200
    assert sorts(own, finn) == [Sort.PLACE]
    layout.say_where(task=own, parts=["pedals"], by=maud)
    assert step_on(own, finn).status == 200


# --- in the house ---


def test_nobody_walks_a_piano_that_never_arrived_not_even_past_the_order(ops, finn, maud):
    away = cast.instrument()
    task = cast.task(ops["polish"], on=away, by=maud)
    assert sorts(task, finn) == [Sort.HOUSE]
    for by, given in ((finn, {}), (maud, {"override": True, "reason": "as good as here"})):
        answer = step_on(task, by, **given)
        assert answer.status == 422
        assert "has not arrived yet" in answer.said["refused"]
    away.refresh_from_db()
    assert (Move.objects.count(), away.finished_on) == (0, None)


def test_nobody_brings_in_work_under_way_on_a_piano_that_is_not_here(ops, maud):
    away = cast.instrument()
    path = layout.path_of(ops["polish"])
    work = in_bulk.Work(away, ops["polish"].department, path, path[1], "Polish", ops["polish"])
    with pytest.raises(Refused, match="has not arrived yet"):
        in_bulk.lay_out_many([work], by=maud, key="k" * 32, reason="brought in")


def test_nobody_works_on_a_piano_that_left_nor_undoes_it_forward(job, piano, finn, maud):
    task = job["polish"]
    cast.walk(task, by=finn, until="proving")
    assert cast.send(task, "built-up", by=maud, reason="not good enough").status == 200
    passages.let_leave(instrument=piano, by=maud, reason="fetched")
    answer = step_on(task, maud, override=True, reason="it was done")
    assert answer.status == 422
    assert "left the house" in answer.said["refused"]
    last = Move.objects.filter(task=task).last()
    assert moves.undo_move(move_id=last.pk, by=maud, tap=cast.tap(maud)).status == 422


def test_the_task_page_offers_no_way_past_the_door(client: Client, ops, maud):
    task = cast.task(ops["polish"], on=cast.instrument(), by=maud)
    client.force_login(maud)
    said = client.get(f"/tasks/{task.pk}/").content.decode()
    assert "has not arrived yet" in said
    assert "Go past the order of work" not in said


# --- the same rules on both doors ---


@pytest.mark.parametrize("seed", range(12))
def test_a_row_says_free_exactly_when_the_tap_is_taken(ops, finn, maud, seed):
    """Random jobs at random moments; whatever the row says, the tap says the same."""
    rng = random.Random(seed)
    greta = cast.finisher("Greta Lunt")
    Stage.objects.filter(code="proving").update(needs_second_eyes=rng.random() < 0.5)
    pianos = [cast.instrument(by=maud if rng.random() < 0.85 else None) for _ in range(2)]
    for piano in pianos:
        wanted = rng.sample(sorted(ops), rng.randint(2, 5))
        layout.lay_out(instrument=piano, operations=[ops[code] for code in wanted], by=maud)
    Task.objects.filter(pk__in=rng.sample(sorted(Task.objects.values_list("pk", flat=True)), 2)).update(
        least_rest_hours=5
    )
    if rng.random() < 0.5:
        Task.objects.order_by("?").first().needs.all().delete()
    moment, taken = clock.now(), 0
    for _ in range(30):
        moment += timedelta(hours=rng.choice([0.1, 1, 6]))
        with clock.at(moment):
            who = rng.choice([finn, greta])
            rows = bench_rows(Task.objects.open(), viewer=who)
            if not rows:
                break
            free = [row for row in rows if row.is_free_to_go]
            row = rng.choice(free if free and rng.random() < 0.7 else rows)
            answer = step_on(row.task, who)
            assert (answer.status == 200) == row.is_free_to_go, (row.in_the_way, answer.said)
            taken += answer.status == 200
    assert taken
    assert_nobody_shared_a_body(pianos)


def assert_nobody_shared_a_body(pianos):
    """Walk the ledger by itself: at no moment were two tasks of a piano in hand on the same parts."""
    for piano in pianos:
        in_hand: dict[int, set[str]] = {}
        for move in Move.objects.filter(task__instrument=piano).select_related("target", "task__operation"):
            state = move.task.operation.state
            holds = move.target.kind in {"benched", "proving"} or (
                move.target.kind == "resting" and state.get("rest_holds")
            )
            in_hand.pop(move.task_id, None)
            if holds:
                parts = set(state["at"])
                assert all(parts.isdisjoint(others) for others in in_hand.values())
                in_hand[move.task_id] = parts
