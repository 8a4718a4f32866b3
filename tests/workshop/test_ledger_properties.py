"""Random programs of deeds: after each one the projection equals the ledger and the order of work holds."""

from __future__ import annotations

import uuid
from datetime import UTC, datetime, timedelta

import pytest
from django.core.exceptions import PermissionDenied
from django.core.management import CommandError, call_command
from django.db import transaction
from hypothesis import HealthCheck, settings
from hypothesis import strategies as st
from hypothesis.stateful import (
    RuleBasedStateMachine,
    initialize,
    invariant,
    rule,
    run_state_machine_as_test,
)

from shopflow.catalogue.models import Rest, Stage
from shopflow.common import clock
from shopflow.common.refusals import Refused
from shopflow.instruments.models import Instrument
from shopflow.people.taps import KeyUsedTwice
from shopflow.workshop.models import Move, Passage, Snag, Tap, Task
from shopflow.workshop.services import layout, moves, passages, snags
from shopflow.workshop.services.taps import TapIn
from tests import cast

pick = st.integers(min_value=0, max_value=10_000)


class Shop(RuleBasedStateMachine):
    """A model in plain Python (each task's place on its path) beside the real shop."""

    def __init__(self) -> None:
        super().__init__()
        self.undone_after = transaction.atomic()
        self.undone_after.__enter__()

    def teardown(self) -> None:
        transaction.set_rollback(True)
        self.undone_after.__exit__(None, None, None)

    @initialize()
    def open_the_house(self) -> None:
        self.now = datetime(2026, 3, 2, 8, tzinfo=UTC)
        bench = cast.department()
        self.maud, self.finn = cast.manager(), cast.finisher(home=bench)
        self.greta = cast.person("Greta Lunt", home=cast.department("plating"))
        self.ops = [cast.operation(code, at=bench) for code in ("strip", "sand", "rub-out")]
        cast.says(self.ops[1], also=["strip"], after=["strip"])
        cast.says(self.ops[2], after=["sand"])
        # One rests longer than the program lasts, one not so long, one not at all.
        for op, hours in ((self.ops[0], 48), (self.ops[1], 1)):
            op.rest = Rest.objects.create(
                code=f"rest-{hours}", name="hardens", hours_low=hours, hours_likely=hours, hours_high=hours
            )
            op.save()
        self.place: dict[int, int] = {}
        self.sent: list[tuple[dict, object]] = []
        self.take_in()

    def _at(self):
        self.now += timedelta(minutes=7)
        return clock.at(self.now)

    def _task(self, number: int) -> Task:
        ids = sorted(self.place)
        return Task.objects.get(pk=ids[number % len(ids)])

    @rule()
    def take_in(self) -> None:
        if Instrument.objects.count() >= 3:
            return
        with self._at():
            piano = cast.instrument(by=self.maud)
            for task in layout.lay_out(instrument=piano, operations=self.ops, by=self.maud):
                self.place[task.pk] = 0

    @rule(which=pick, to=pick, who=st.sampled_from(["finn", "greta", "maud"]), override=st.booleans())
    def move(self, which: int, to: int, who: str, override: bool) -> None:
        task = self._task(which)
        wanted = task.path[to % len(task.path)]
        asked = {
            "task_id": task.pk,
            "to_stage_id": wanted,
            "seen_stage_id": task.stage_id,
            "by": getattr(self, who),
            "reason": "so it was" if to % 2 else "",
            "override": override,
        }
        key = uuid.uuid4().hex
        with self._at():
            tap = TapIn.of(key=key, by=asked["by"])
            try:
                answer = moves.move_task(**asked, tap=tap)
            except PermissionDenied:
                return
        self.sent.append(({**asked, "tap": tap}, answer))
        if answer.status == 200:
            self.place[task.pk] = task.path.index(wanted)

    @rule(which=pick)
    def send_an_old_packet_again(self, which: int) -> None:
        if not self.sent:
            return
        asked, first = self.sent[which % len(self.sent)]
        lines = Move.objects.count()
        with self._at():
            again = moves.move_task(**asked)
        assert (again.status, again.said) == (first.status, first.said)
        assert Move.objects.count() == lines

    @rule(which=pick, to=pick)
    def use_an_old_key_for_something_else(self, which: int, to: int) -> None:
        if not self.sent:
            return
        asked, _ = self.sent[which % len(self.sent)]
        with pytest.raises(KeyUsedTwice):
            moves.move_task(**{**asked, "reason": f"another reason {to}"})

    @rule(which=pick, who=st.sampled_from(["finn", "maud"]))
    def undo_the_last(self, which: int, who: str) -> None:
        task = self._task(which)
        last = Move.objects.filter(task=task).last()
        if last is None:
            return
        by = getattr(self, who)
        with self._at():
            answer = moves.undo_move(move_id=last.pk, by=by, tap=cast.tap(by))
        if answer.status == 200:
            self.place[task.pk] = task.path.index(last.origin_id)

    @rule(which=pick)
    def stop_or_let_go(self, which: int) -> None:
        task = self._task(which)
        open_one = task.snags.open().first()
        with self._at():
            if open_one:
                snags.clear_snag(snag=open_one, by=self.finn)
                return
            try:
                snags.raise_snag(
                    task=task,
                    cause=Snag.Cause.PART,
                    reason="hinge missing",
                    ask_again_on=clock.today(),
                    by=self.finn,
                )
            except Refused:
                assert task.stage.kind == Stage.Kind.SIGNED or task.dropped_at

    @rule(which=pick)
    def drop(self, which: int) -> None:
        task = self._task(which)
        with self._at():
            try:
                layout.drop_task(task=task, by=self.maud, reason="left as found")
            except Refused:
                assert task.stage.kind == Stage.Kind.SIGNED or task.dropped_at

    @rule(which=pick)
    def leave(self, which: int) -> None:
        piano = self._task(which).instrument
        with self._at():
            try:
                passages.let_leave(instrument=piano, by=self.maud)
            except Refused:
                assert piano.finished_on is None or piano.left_on

    @invariant()
    def projection_equals_ledger(self) -> None:
        if not hasattr(self, "place"):
            return
        assert moves.projection_differences() == []
        assert passages.passage_differences() == []

    @invariant()
    def model_equals_projection(self) -> None:
        for pk, at in getattr(self, "place", {}).items():
            task = Task.objects.get(pk=pk)
            assert task.path[at] == task.stage_id

    @invariant()
    def nothing_left_the_rack_too_early(self) -> None:
        """Without an override kept in the ledger, a task off the rack has had all its needs signed."""
        for move in Move.objects.filter(origin__kind="racked", undoes=None, overrode=False):
            for need in move.task.needs.all():
                signed = Move.objects.filter(task=need.needs, target__kind="signed", pk__lt=move.pk)
                assert signed.exists() or need.needs.dropped_at

    @invariant()
    def nothing_left_its_rest_too_early(self) -> None:
        """Without an override, nobody went on from a rest before its least hours were over."""
        for move in Move.objects.filter(origin__kind="resting", undoes=None, overrode=False):
            path = move.task.path
            if path.index(move.target_id) < path.index(move.origin_id):
                continue
            began = _rest_began(move)
            least = timedelta(hours=float(move.task.least_rest_hours))
            assert move.recorded_at >= began + least

    @invariant()
    def only_what_rests_has_an_earliest_touch(self) -> None:
        for task in Task.objects.exclude(earliest_touch=None):
            assert task.stage.kind == Stage.Kind.RESTING

    @invariant()
    def finished_means_all_signed(self) -> None:
        for piano in Instrument.objects.filter(left_on=None).exclude(finished_on=None):
            assert not Task.objects.open().before_leaving().filter(instrument=piano).exists()

    @invariant()
    def one_answer_per_tap(self) -> None:
        pairs = list(Tap.objects.values_list("client", "key"))
        assert len(pairs) == len(set(pairs))


def _rest_began(leaving: Move) -> datetime:
    """When the stay that this move ends began, told by replaying what came before it; undone lines undo."""
    standing: list[Move] = []
    for line in Move.objects.filter(task=leaving.task, pk__lt=leaving.pk).order_by("pk"):
        if line.undoes_id:
            standing = [kept for kept in standing if kept.pk != line.undoes_id]
        else:
            standing.append(line)
    return standing[-1].recorded_at


@pytest.mark.django_db
@pytest.mark.data_layer
def test_after_every_deed_of_a_random_program_projection_and_ledger_agree():
    few = settings(
        max_examples=25,
        stateful_step_count=25,
        deadline=None,
        suppress_health_check=[HealthCheck.too_slow, HealthCheck.data_too_large],
    )
    run_state_machine_as_test(Shop, settings=few)


@pytest.mark.django_db
def test_a_stage_changed_behind_the_ledgers_back_is_named_and_mended(capsys):
    maud = cast.manager()
    task = cast.task(cast.operation(), on=cast.instrument(by=maud), by=maud)
    cast.send(task, "stripped", by=maud)
    Task.objects.filter(pk=task.pk).update(stage=cast.stage(task, "signed"))
    with pytest.raises(CommandError, match="1 difference"):
        call_command("check_ledger")
    call_command("check_ledger", "--mend")
    task.refresh_from_db()
    assert task.stage.code == "stripped"
    assert "Strip" in capsys.readouterr().out


@pytest.mark.django_db
def test_a_rest_changed_behind_the_ledgers_back_is_named_and_mended(capsys):
    maud = cast.manager()
    task = cast.task(cast.operation(), on=cast.instrument(by=maud), by=maud)
    Task.objects.filter(pk=task.pk).update(least_rest_hours=48)
    cast.walk(task, by=maud, until="hardening")
    task.refresh_from_db()
    right = task.earliest_touch
    Task.objects.filter(pk=task.pk).update(earliest_touch=clock.now())
    with pytest.raises(CommandError, match="1 difference"):
        call_command("check_ledger")
    assert "stored earliest touch" in capsys.readouterr().out
    call_command("check_ledger", "--mend")
    task.refresh_from_db()
    assert task.earliest_touch == right


@pytest.mark.django_db
def test_a_passage_date_changed_behind_the_ledgers_back_is_named():
    maud = cast.manager()
    piano = cast.instrument(by=maud)
    Instrument.objects.filter(pk=piano.pk).update(finished_on=clock.today())
    with pytest.raises(CommandError):
        call_command("check_ledger")
    assert Passage.objects.count() == 1
