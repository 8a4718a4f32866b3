"""Operations: what is done, in how many hours, through which stages; its state is in `state.py`."""

from __future__ import annotations

from collections.abc import Collection
from dataclasses import dataclass
from decimal import Decimal

from django.db import transaction
from django.utils import timezone

from shopflow.catalogue.given_out import NOT_SAID, SAFE_STATE
from shopflow.catalogue.models import Caution, Department, Operation, Rest, Stage
from shopflow.common import clock, pulse
from shopflow.common.refusals import Refused
from shopflow.people.models import Person

from .checking import agreeing
from .rows import free_code, refuse_unless_rising
from .version import setting_up

Hours = tuple[Decimal, Decimal, Decimal] | None
HOURS = [f"{side}_{step}" for side in ("upright", "grand") for step in ("low", "likely", "high")]


@dataclass(frozen=True, slots=True)
class Words:
    """What an operation says of itself."""

    name: str
    what: str = ""
    if_left: str = ""
    evidence: str = ""
    materials: str = ""
    at_the_owners: bool = False
    sheet: str = ""
    outside_cost: Decimal = Decimal(0)
    in_every_job: bool = False


@dataclass(frozen=True, slots=True)
class Ties:
    """What an operation passes, how it rests and what it warns of."""

    stages: Collection[Stage]
    rest: Rest | None = None
    cautions: Collection[Caution] = ()


@transaction.atomic
def add_operation(
    *, department: Department, words: Words, upright: Hours, grand: Hours, ties: Ties, by: Person
) -> Operation:
    setting_up(by)
    taken = set(Operation.objects.values_list("code", flat=True))
    made = Operation(
        code=free_code(words.name, taken=taken, otherwise="operation", most=30),
        department=department,
        state=SAFE_STATE,
        state_to_look_at=True,
        state_note=NOT_SAID,
    )
    return _fill(made, words=words, upright=upright, grand=grand, ties=ties, by=by)


@transaction.atomic
def change_operation(
    *, operation: Operation, words: Words, upright: Hours, grand: Hours, ties: Ties, by: Person
) -> Operation:
    """Work that is laid out already keeps the hours, the stages and the ties that it has."""
    setting_up(by)
    fresh = Operation.objects.select_for_update(of=("self",)).get(pk=operation.pk)
    with agreeing():
        return _fill(fresh, words=words, upright=upright, grand=grand, ties=ties, by=by)


@transaction.atomic
def retire_operation(*, operation: Operation, by: Person) -> None:
    """It is offered no more and left out of routes; tasks that were made of it go on.

    Refused where other work needs it and nothing else does the same.
    """
    setting_up(by)
    with agreeing():
        operation.retired_at = clock.now()
        operation.save(update_fields=["retired_at"])


@transaction.atomic
def bring_back_operation(*, operation: Operation, by: Person) -> None:
    setting_up(by)
    with agreeing():
        operation.retired_at = None
        operation.save(update_fields=["retired_at"])


def _fill(
    operation: Operation, *, words: Words, upright: Hours, grand: Hours, ties: Ties, by: Person
) -> Operation:
    _refuse_bad_hours(upright, grand)
    _refuse_bad_path(operation.department, ties)
    hours = [*(upright or (None,) * 3), *(grand or (None,) * 3)]
    if hours != [getattr(operation, name) for name in HOURS]:
        operation.hours_basis = f"the shop’s own figure, set by {by.name}, {_month()}"
    for name, figure in zip(HOURS, hours, strict=True):
        setattr(operation, name, figure)
    for name in Words.__dataclass_fields__:
        setattr(operation, name, getattr(words, name))
    operation.rest = ties.rest
    operation.save()
    for name in ("stages", "cautions"):
        getattr(operation, name).set(getattr(ties, name))
    pulse.bump()
    return operation


def _month() -> str:
    return f"{timezone.localtime(clock.now()):%B %Y}"


def _refuse_bad_hours(upright: Hours, grand: Hours) -> None:
    if upright is None and grand is None:
        raise Refused("Give the hours for an upright, a grand or both.")
    for side, hours in (("upright", upright), ("grand", grand)):
        if hours:
            refuse_unless_rising(hours, what=f"Hours for {side}s", field=f"{side}_low")


def _refuse_bad_path(department: Department, ties: Ties) -> None:
    kinds = {stage.kind for stage in ties.stages if stage.retired_at is None}
    if any(stage.department_id != department.pk for stage in ties.stages):
        raise Refused(f"Only stages of {department.name} can be on its way.", field="stages")
    if not {Stage.Kind.RACKED, Stage.Kind.SIGNED} <= kinds:
        raise Refused("Every operation begins on a rack and ends signed: choose one of each.", field="stages")
    resting = [stage.name for stage in ties.stages if stage.kind == Stage.Kind.RESTING]
    if resting and ties.rest is None:
        raise Refused(f"“{resting[0]}” is a resting stage. Say which rest it is.", field="rest")
