"""The library of what can be found wrong: kinds of finding, and what mends them, the lightest first."""

from __future__ import annotations

from collections.abc import Collection
from typing import Any

from django.db import transaction

from shopflow.catalogue.models import FindingKind, Operation, Remedy
from shopflow.common import clock
from shopflow.common.refusals import Refused
from shopflow.people.models import Person

from .rows import free_code, keep_order, next_place, shift
from .version import setting_up

KIND_FACTS = [
    "group",
    "name",
    "plain_words",
    "how_seen",
    "severity_cue",
    "usual_severity",
    "if_left",
    "only_for",
    "safety",
    "playing",
    "tone",
    "looks",
    "durability",
    "stops",
    "forbids",
]
REMEDY_FACTS = ["name", "kind", "cures", "only_for", "note", "operations", "besides_upright", "besides_grand"]
RELATIONS = {"forbids", "operations", "besides_upright", "besides_grand"}
OWN = "the shop’s own"


@transaction.atomic
def add_finding_kind(*, by: Person, **facts: Any) -> FindingKind:
    setting_up(by)
    taken = set(FindingKind.objects.values_list("code", flat=True))
    made = FindingKind(
        code=free_code(facts["name"], taken=taken, otherwise="finding", most=10),
        position=next_place(FindingKind.objects.filter(group=facts["group"])),
    )
    return _fill_kind(made, facts)


@transaction.atomic
def change_finding_kind(*, finding_kind: FindingKind, by: Person, **facts: Any) -> FindingKind:
    """Findings that are written down keep their names; what they mean is weighed anew."""
    setting_up(by)
    return _fill_kind(finding_kind, facts)


@transaction.atomic
def retire_finding_kind(*, finding_kind: FindingKind, by: Person) -> None:
    """It is offered to surveys no more; what was found of it stays."""
    setting_up(by)
    _set_retired(finding_kind, is_retired=True)


@transaction.atomic
def bring_back_finding_kind(*, finding_kind: FindingKind, by: Person) -> None:
    setting_up(by)
    _set_retired(finding_kind, is_retired=False)


@transaction.atomic
def add_remedy(
    *, finding_kind: FindingKind, operations: Collection[Operation], by: Person, **facts: Any
) -> Remedy:
    """The heaviest of its kind until it is moved up."""
    setting_up(by)
    taken = set(Remedy.objects.values_list("code", flat=True))
    plain = f"{finding_kind.code} {facts['name']}"
    made = Remedy(
        code=free_code(plain, taken=taken, otherwise="remedy", most=30),
        finding_kind=finding_kind,
        position=next_place(finding_kind.remedies.all()),
    )
    return _fill_remedy(made, facts, operations)


@transaction.atomic
def change_remedy(*, remedy: Remedy, operations: Collection[Operation], by: Person, **facts: Any) -> Remedy:
    setting_up(by)
    return _fill_remedy(remedy, facts, operations)


@transaction.atomic
def move_remedy(*, remedy: Remedy, places: int, by: Person) -> None:
    """Up is lighter, down is heavier."""
    setting_up(by)
    rows = list(Remedy.objects.select_for_update().in_use().filter(finding_kind=remedy.finding_kind_id))
    if remedy.pk not in {one.pk for one in rows}:
        raise Refused(f"“{remedy.name}” is retired; bring it back first.")
    keep_order(shift(rows, remedy, places=places))


@transaction.atomic
def retire_remedy(*, remedy: Remedy, by: Person) -> None:
    """It is weighed and offered no more; what was offered with it stays."""
    setting_up(by)
    _set_retired(remedy, is_retired=True)


@transaction.atomic
def bring_back_remedy(*, remedy: Remedy, by: Person) -> None:
    setting_up(by)
    _set_retired(remedy, is_retired=False)


def _fill_kind(kind: FindingKind, facts: dict[str, Any]) -> FindingKind:
    for name in KIND_FACTS:
        if name not in RELATIONS:
            setattr(kind, name, facts[name])
    kind.basis = OWN
    kind.save()
    kind.forbids.set(facts.get("forbids", ()))
    return kind


def _fill_remedy(remedy: Remedy, facts: dict[str, Any], operations: Collection[Operation]) -> Remedy:
    if not operations:
        raise Refused("Choose at least one operation that it takes.", field="operations")
    for name in REMEDY_FACTS:
        if name not in RELATIONS:
            setattr(remedy, name, facts[name])
    remedy.basis = OWN
    remedy.save()
    for name in ("besides_upright", "besides_grand"):
        getattr(remedy, name).set(facts.get(name, ()))
    remedy.operations.set(operations)
    return remedy


def _set_retired(row: FindingKind | Remedy, *, is_retired: bool) -> None:
    row.retired_at = clock.now() if is_retired else None
    row.save(update_fields=["retired_at"])
