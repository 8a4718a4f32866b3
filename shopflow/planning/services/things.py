"""Scarce things, and how much a finished instrument counts."""

from __future__ import annotations

from collections.abc import Sequence
from decimal import Decimal

from django.db import transaction

from shopflow.catalogue.models import Kind, Operation
from shopflow.catalogue.services.rows import free_code
from shopflow.common.refusals import Refused
from shopflow.people import access
from shopflow.people.access import Deed
from shopflow.people.models import Person
from shopflow.planning.models import KindSize, ScarceThing

MOST = 100
LEAST_SIZE, MOST_SIZE = Decimal("0.05"), Decimal(10)

# One spray booth, one plate hoist: common practice, no source.
USUAL = (
    ("spray-booth", "Spray booth", 1, ("build-lacquer", "build-polyester")),
    ("plate-hoist", "Plate hoist", 1, ("plate-out", "plate-in", "bearing-set")),
)


def put_usual_things() -> list[ScarceThing]:
    """The usual scarce things that the shop has not yet, tied to the operations that the shop has."""
    known = set(ScarceThing.objects.values_list("code", flat=True))
    made = []
    for code, name, count, operations in USUAL:
        if code not in known:
            thing = ScarceThing.objects.create(code=code, name=name, count=count)
            thing.operations.set(Operation.objects.in_use().filter(code__in=operations))
            made.append(thing)
    return made


@transaction.atomic
def add_usual_things(*, by: Person) -> list[ScarceThing]:
    access.require(by, Deed.SET_UP)
    made = put_usual_things()
    if not made:
        raise Refused("The usual things are all there already.")
    return made


@transaction.atomic
def add_thing(*, name: str, count: int, operations: Sequence[Operation], by: Person) -> ScarceThing:
    access.require(by, Deed.SET_UP)
    taken = set(ScarceThing.objects.values_list("code", flat=True)) | {"new", "usual"}
    made = ScarceThing(code=free_code(name, taken=taken, otherwise="thing", most=30))
    return _fill(made, name=name, count=count, operations=operations)


@transaction.atomic
def change_thing(
    *, thing: ScarceThing, name: str, count: int, operations: Sequence[Operation], by: Person
) -> ScarceThing:
    access.require(by, Deed.SET_UP)
    return _fill(thing, name=name, count=count, operations=operations)


@transaction.atomic
def take_thing_away(*, thing: ScarceThing, by: Person) -> None:
    """From the next plan on nothing waits for it."""
    access.require(by, Deed.SET_UP)
    thing.delete()


def _fill(thing: ScarceThing, *, name: str, count: int, operations: Sequence[Operation]) -> ScarceThing:
    if not 1 <= count <= MOST:
        raise Refused(f"Got {count}; allowed is 1 to {MOST}.", field="count")
    thing.name, thing.count = name, count
    thing.save()
    thing.operations.set(operations)
    return thing


@transaction.atomic
def set_sizes(*, sizes: dict[str, Decimal], by: Person) -> None:
    """How much one finished instrument of each kind counts toward the year and in the plan's lateness."""
    access.require(by, Deed.SET_UP)
    for kind, size in sizes.items():
        if kind not in Kind.values or not LEAST_SIZE <= size <= MOST_SIZE:
            raise Refused(f"Got {size}; allowed is {LEAST_SIZE} to {MOST_SIZE}.", field=kind)
        KindSize.objects.update_or_create(kind=kind, defaults={"size": size})
