"""The stages of a department: work always begins on a rack and ends signed."""

from __future__ import annotations

from collections.abc import Collection

from django.db import transaction

from shopflow.catalogue.models import Caution, Department, Operation, Stage
from shopflow.catalogue.selectors import is_on_a_path
from shopflow.common import clock, pulse
from shopflow.common.refusals import Refused
from shopflow.people.models import Person

from .rows import free_code, keep_order, shift
from .version import setting_up

ENDS = {Stage.Kind.RACKED: "rack", Stage.Kind.SIGNED: "signed stage"}
_BEGINNING_TO_END = {Stage.Kind.RACKED: 0, Stage.Kind.SIGNED: 2}


@transaction.atomic
def add_stage(
    *,
    department: Department,
    name: str,
    kind: str,
    needs_photo: bool,
    needs_second_eyes: bool,
    for_all: bool,
    by: Person,
    needs_reading: bool = False,
    cautions: Collection[Caution] = (),
) -> Stage:
    """A new stage, last before the signature (a rack: last of the racks).

    `for_all` puts it on the way of every operation of the department; work laid out already keeps its way.
    """
    setting_up(by)
    stages = list(department.stages.select_for_update(of=("self",)))
    _refuse_taken(name, stages)
    made = Stage.objects.create(
        department=department,
        code=free_code(name, taken={stage.code for stage in stages}, otherwise="stage", most=30),
        name=name,
        kind=kind,
        needs_photo=needs_photo,
        needs_reading=needs_reading,
        needs_second_eyes=needs_second_eyes,
        position=len(stages),
    )
    made.cautions.set(cautions)
    keep_order(from_rack_to_signed([*stages, made]))
    if for_all:
        made.operations.set(Operation.objects.filter(department=department))
    pulse.bump()
    return made


@transaction.atomic
def change_stage(
    *,
    stage: Stage,
    name: str,
    kind: str,
    needs_photo: bool,
    needs_second_eyes: bool,
    by: Person,
    needs_reading: bool = False,
    cautions: Collection[Caution] = (),
) -> Stage:
    setting_up(by)
    was = Stage.objects.select_for_update(of=("self",)).get(pk=stage.pk)
    others = list(stage.department.stages.exclude(pk=stage.pk))
    _refuse_taken(name, others)
    if kind != was.kind:
        _refuse_other_kind(was, others)
    stage.name, stage.kind = name, kind
    stage.needs_photo, stage.needs_reading, stage.needs_second_eyes = (
        needs_photo,
        needs_reading,
        needs_second_eyes,
    )
    stage.save(update_fields=["name", "kind", "needs_photo", "needs_reading", "needs_second_eyes"])
    stage.cautions.set(cautions)
    keep_order(from_rack_to_signed(list(stage.department.stages.all())))
    pulse.bump()
    return stage


@transaction.atomic
def move_stage(*, stage: Stage, places: int, by: Person) -> None:
    """Up (negative) or down; racks stay first and signatures last. Work laid out keeps its own order."""
    setting_up(by)
    row = list(stage.department.stages.select_for_update(of=("self",)).in_use())
    if stage.pk not in {one.pk for one in row}:
        raise Refused(f"“{stage.name}” is retired; bring it back first.")
    moved = shift(row, stage, places=places)
    if moved != from_rack_to_signed(moved):
        raise Refused("Work begins on the rack and ends signed: those two stay first and last.")
    keep_order([*moved, *stage.department.stages.exclude(retired_at=None)])
    pulse.bump()


@transaction.atomic
def retire_stage(*, stage: Stage, by: Person) -> None:
    """No new work passes it. Work that stands in it stays there and goes on from there."""
    setting_up(by)
    others = list(stage.department.stages.select_for_update(of=("self",)).in_use().exclude(pk=stage.pk))
    _refuse_without_end(stage, others)
    _refuse_cut_off(stage, others)
    stage.retired_at = clock.now()
    stage.save(update_fields=["retired_at"])
    pulse.bump()


@transaction.atomic
def bring_back_stage(*, stage: Stage, by: Person) -> None:
    setting_up(by)
    stages = list(stage.department.stages.select_for_update(of=("self",)))
    _refuse_taken(stage.name, [one for one in stages if one.pk != stage.pk])
    stage.retired_at = None
    stage.save(update_fields=["retired_at"])
    keep_order(from_rack_to_signed(stages))
    pulse.bump()


def from_rack_to_signed(stages: list[Stage]) -> list[Stage]:
    """The same stages with the racks first and the signatures last, else in the order given."""
    return sorted(stages, key=lambda stage: _BEGINNING_TO_END.get(Stage.Kind(stage.kind), 1))


def _refuse_taken(name: str, others: Collection[Stage]) -> None:
    for other in others:
        if other.retired_at is None and other.name.casefold() == name.casefold():
            raise Refused(f"This department has a stage “{other.name}” already.", field="name")


def _refuse_other_kind(stage: Stage, others: list[Stage]) -> None:
    """What the ledger says of past work hangs on the kind: once a task was laid through it, it is settled."""
    if is_on_a_path(stage):
        raise Refused(
            f"Tasks pass “{stage.name}” already, so its kind stays “{stage.kind}”. "
            "Add a new stage of the other kind and retire this one.",
            field="kind",
        )
    _refuse_without_end(stage, [one for one in others if one.retired_at is None], field="kind")


def _refuse_without_end(stage: Stage, others: list[Stage], *, field: str | None = None) -> None:
    kind = Stage.Kind(stage.kind)
    if kind in ENDS and all(other.kind != kind for other in others):
        raise Refused(
            f"“{stage.name}” is the only {ENDS[kind]} of {stage.department.name}. Add another one first.",
            field=field,
        )


def _refuse_cut_off(stage: Stage, others: list[Stage]) -> None:
    """An operation that begins or ends only here would have no way left."""
    if Stage.Kind(stage.kind) not in ENDS:
        return
    same = [other.pk for other in others if other.kind == stage.kind]
    stranded = stage.operations.in_use().exclude(stages__in=same).values_list("name", flat=True)
    if names := list(stranded[:3]):
        raise Refused(
            f"{len(stranded)} operations have no other {ENDS[Stage.Kind(stage.kind)]}, for example "
            + ", ".join(f"“{name}”" for name in names)
            + ". Give them another one first."
        )
