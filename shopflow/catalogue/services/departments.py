"""Departments: added, renamed, put in another order, retired and brought back."""

from __future__ import annotations

from decimal import Decimal

from django.db import transaction

from shopflow.catalogue.models import Department, Stage
from shopflow.common import clock, pulse
from shopflow.common.refusals import Refused
from shopflow.people.models import Person

from .rows import free_code, keep_order, next_place, shift
from .version import setting_up


@transaction.atomic
def add_department(
    *, name: str, mark: str, material: str, rate: Decimal = Decimal(0), by: Person
) -> Department:
    """A new department, last in the row, with a rack and a signature to begin with."""
    setting_up(by)
    _refuse_taken(name=name, mark=mark)
    taken = set(Department.objects.values_list("code", flat=True))
    made = Department.objects.create(
        code=free_code(name, taken=taken, otherwise="department", most=30),
        name=name,
        mark=mark.upper(),
        material=material,
        rate=rate,
        position=next_place(Department.objects.all()),
    )
    ends = [("rack", "on the rack", Stage.Kind.RACKED), ("signed", "signed", Stage.Kind.SIGNED)]
    Stage.objects.bulk_create(
        Stage(department=made, code=code, name=words, kind=kind, position=place)
        for place, (code, words, kind) in enumerate(ends)
    )
    pulse.bump()
    return made


@transaction.atomic
def change_department(
    *, department: Department, name: str, mark: str, material: str, rate: Decimal | None = None, by: Person
) -> Department:
    setting_up(by)
    _refuse_taken(name=name, mark=mark, besides=department)
    department.name, department.mark, department.material = name, mark.upper(), material
    department.rate = department.rate if rate is None else rate
    department.save(update_fields=["name", "mark", "material", "rate"])
    pulse.bump()
    return department


@transaction.atomic
def move_department(*, department: Department, places: int, by: Person) -> None:
    """Up (negative) or down in the row in which the Floor shows the departments."""
    setting_up(by)
    row = list(Department.objects.select_for_update().in_use())
    if department.pk not in {one.pk for one in row}:
        raise Refused(f"“{department.name}” is retired; bring it back first.")
    retired = list(Department.objects.exclude(retired_at=None))
    keep_order([*shift(row, department, places=places), *retired])
    pulse.bump()


@transaction.atomic
def retire_department(*, department: Department, by: Person) -> None:
    """Nothing new begins here any more. Work that stands here stays, and can go on to its end."""
    setting_up(by)
    others = Department.objects.select_for_update().in_use().exclude(pk=department.pk)
    if not others.exists():
        raise Refused(f"“{department.name}” is the only department; a shop needs one.")
    department.retired_at = clock.now()
    department.save(update_fields=["retired_at"])
    pulse.bump()


@transaction.atomic
def bring_back_department(*, department: Department, by: Person) -> None:
    setting_up(by)
    _refuse_taken(name=department.name, mark=department.mark, besides=department)
    department.retired_at = None
    department.save(update_fields=["retired_at"])
    pulse.bump()


def _refuse_taken(*, name: str, mark: str, besides: Department | None = None) -> None:
    """Two departments in use must differ in name and in mark: the mark is what a hand reads from afar."""
    others = Department.objects.select_for_update().in_use()
    if besides is not None:
        others = others.exclude(pk=besides.pk)
    for other in others:
        if other.mark.casefold() == mark.casefold():
            raise Refused(
                f"“{mark.upper()}” is the mark of {other.name}. Take two other letters.", field="mark"
            )
        if other.name.casefold() == name.casefold():
            raise Refused(f"There is a department “{other.name}” already.", field="name")
