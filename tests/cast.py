"""A small cast and a small shop for every test: build what matters, take the rest as given."""

from __future__ import annotations

import itertools
import uuid
from datetime import date
from typing import Any

from django.db import transaction
from django.test import Client

from shopflow.catalogue.knowledge import knowledge
from shopflow.catalogue.models import Department, Kind, Operation, Shop, Stage, StateLine
from shopflow.catalogue.services.version import catalogue_changed
from shopflow.common import pulse
from shopflow.customers.models import Customer
from shopflow.instruments.models import Crate, Instrument
from shopflow.instruments.services import crates
from shopflow.people import presence, tablets
from shopflow.people.models import Person, Role, Tablet
from shopflow.photos.models import Photo
from shopflow.workshop.models import Task, TaskNeed
from shopflow.workshop.selectors.stay import stay_of
from shopflow.workshop.services import layout, moves, passages
from shopflow.workshop.services.taps import Answer, TapIn

_numbers = itertools.count(2101)  # Above all numbers that tests give by hand.

REFINISHING = [
    ("rack", "on the rack", "racked"),
    ("stripped", "stripped", "benched"),
    ("built-up", "built up", "benched"),
    ("hardening", "hardening", "resting"),
    ("proving", "proving", "proving"),
    ("signed", "signed", "signed"),
]

# Work that says nothing of the piano's state: it holds no part, needs nothing, may be done at any time.
SAYS_NOTHING: dict[str, Any] = {"at": []}


def shop(**given: Any) -> Shop:
    row, _ = Shop.objects.update_or_create(
        pk=1, defaults={"name": "Quillmere Piano Works", "time_zone": "Europe/London", **given}
    )
    return row


def department(code: str = "refinishing", *, stages: list[tuple[str, str, str]] | None = None) -> Department:
    """A department with its stages; the same one again for the same code."""
    found = Department.objects.filter(code=code).first()
    if found:
        return found
    made = Department.objects.create(
        code=code, name=code.capitalize(), mark=code[:2].upper(), position=Department.objects.count()
    )
    for place, (stage_code, name, kind) in enumerate(stages or REFINISHING):
        Stage.objects.create(department=made, code=stage_code, name=name, kind=kind, position=place)
    return made


def operation(code: str = "strip", *, at: Department | None = None, **given: Any) -> Operation:
    at = at or department()
    hours = dict.fromkeys(("upright_low", "grand_low"), 1) | dict.fromkeys(
        ("upright_likely", "grand_likely"), 2
    )
    hours |= dict.fromkeys(("upright_high", "grand_high"), 4)
    given = hours | {"state": SAYS_NOTHING} | given
    made = Operation.objects.create(code=code, name=code.capitalize(), department=at, **given)
    made.stages.set(at.stages.all())
    catalogue_changed()
    return made


def says(op: Operation, **state: Any) -> None:
    """What this operation needs, opens, leaves, holds; instead of what it said before."""
    op.state = SAYS_NOTHING | state
    op.save(update_fields=["state"])
    catalogue_changed()


def line(code: str, *levels: str, **given: Any) -> StateLine:
    """A line of state with these levels; a piano comes in at the last one and leaves at it."""
    places = {"found": levels[-1], "goal": levels[-1], "say": [f"the {code} {level}" for level in levels]}
    made = StateLine.objects.create(code=code, name=code, levels=list(levels), **(places | given))
    catalogue_changed()
    return made


def person(name: str, role: str = Role.HAND, *, home: Department | None = None, **given: Any) -> Person:
    return Person.objects.create_person(
        sign_in_name=name.lower().replace(" ", "-"), name=name, role=role, home=home, **given
    )


def owner(name: str = "Ottilie Marsh") -> Person:
    return person(name, Role.OWNER)


def manager(name: str = "Maud Ferrier") -> Person:
    return person(name, Role.MANAGER)


def finisher(name: str = "Finn Tarrow", *, home: Department | None = None) -> Person:
    return person(name, home=home or department())


def stranger(name: str = "Stray Visitor") -> Person:
    return person(name, Role.STRANGER)


def tablet(name: str = "Refinishing tablet") -> Tablet:
    return Tablet.objects.create(name=name)


def on_tablet(client: Client, at: Tablet) -> Client:
    """Make this test browser that tablet."""
    secret = f"secret of tablet {at.pk}"
    Tablet.objects.filter(pk=at.pk).update(token_hash=tablets.fingerprint(secret))
    client.cookies[tablets.COOKIE] = secret
    return client


def by_pin(client: Client, who: Person, at: Tablet | None = None) -> Client:
    """Someone signed in by PIN: on a tablet, the only place where that can be."""
    at = at or tablet(f"Tablet of {who.name}")
    on_tablet(client, at).force_login(who)
    session = client.session
    session.update({presence.BY_PIN: True, presence.TABLET: at.pk})
    session.save()
    return client


def photo_after(instrument: Instrument, *, by: Person) -> Photo:
    """A photo of after the work; no page shows it before its copies are made."""
    return Photo.objects.create(instrument=instrument, role=Photo.Role.AFTER, added_by=by)


def instrument(*, by: Person | None = None, arrived: date | None = None, **given: Any) -> Instrument:
    """An instrument in the house when someone took it in, else one that has not arrived yet."""
    made = Instrument.objects.create(
        **(
            {
                "number": str(next(_numbers)),
                "kind": Kind.UPRIGHT,
                "maker": "Bexcombe",
                "serial": "40117",
                "year_built": 1904,
            }
            | given
        )
    )
    if by is not None:
        from shopflow.common import clock

        passages.arrive(instrument=made, on=arrived or clock.today(), by=by)
    return made


@transaction.atomic
def task(op: Operation, *, on: Instrument, by: Person, needs: list[Task] | None = None) -> Task:
    """One task by itself, written past the deed that would lay out all that goes with it."""
    made = layout.task_for(op, instrument=on, position=Task.objects.filter(instrument=on).count())
    made.save()
    for earlier in needs or []:
        TaskNeed.objects.get_or_create(task=made, needs=earlier)
    if op.state != SAYS_NOTHING:
        layout.tie_open_work(stay_of(on), knowledge(on.kind))
    passages.settle(on, by=by)
    pulse.bump()
    return made


def tap(by: Person, *, key: str = "", at: Tablet | None = None, **given: Any) -> TapIn:
    return TapIn.of(key=key or uuid.uuid4().hex, by=by, tablet=at, **given)


def stage(of: Task, code: str) -> Stage:
    return Stage.objects.get(department=of.department, code=code)


def send(piece: Task, to: str, *, by: Person, seen: str = "", key: str = "", **given: Any) -> Answer:
    """Move a task to the stage with this code, as someone who sees where it stands now."""
    piece.refresh_from_db()
    seen_id = stage(piece, seen).pk if seen else piece.stage_id
    return moves.move_task(
        task_id=piece.pk,
        to_stage_id=stage(piece, to).pk,
        seen_stage_id=seen_id,
        by=by,
        tap=tap(by, key=key),
        **given,
    )


def walk(piece: Task, *, by: Person, until: str = "signed") -> None:
    """Take a task stage by stage along its whole path, up to and with the stage of this code."""
    piece.refresh_from_db()
    codes = [Stage.objects.get(pk=pk).code for pk in piece.path]
    here = codes.index(Stage.objects.get(pk=piece.stage_id).code)
    for code in codes[here + 1 : codes.index(until) + 1]:
        answer = send(piece, code, by=by)
        assert answer.status == 200, answer.said


def customer(name: str = "Agnes Applegarth", **given: Any) -> Customer:
    return Customer.objects.create(name=name, **given)


def crate(of: Instrument, *, by: Person, holds: str = "4 × lid hinges", **given: Any) -> Crate:
    """A crate with the parts that are named: “4 × lid hinges, 12 × hinge screws”."""
    parts = [part.partition(" × ") for part in holds.split(", ") if part]
    return crates.make_crate(
        instrument=of,
        by=by,
        tap=tap(by),
        parts=[crates.Part(name, int(count)) for count, _, name in parts],
        **({"set_name": "hardware"} | given),
    )


def crowd(count: int) -> list[Instrument]:
    """So many more instruments in the house, each with one task on the rack, written past the services."""
    op = Operation.objects.first() or operation()
    path = [stage.pk for stage in op.stages.order_by("position")]
    first = Instrument.objects.count() + 5000
    pianos = Instrument.objects.bulk_create(
        Instrument(
            number=str(first + n), kind=Kind.UPRIGHT, maker="Corvane Brothers", arrived_on="2026-01-05"
        )
        for n in range(count)
    )
    Task.objects.bulk_create(
        Task(
            instrument=piano,
            department_id=op.department_id,
            operation=op,
            name=op.name,
            path=path,
            stage_id=path[0],
            hours_low=1,
            hours_likely=2,
            hours_high=4,
        )
        for piano in pianos
    )
    return pianos


def busy_house(count: int, *, tasks_each: int = 12) -> None:
    """So many instruments in six departments, a dozen tasks each in a chain, some of them already signed."""
    benches = [department(f"bench-{number}") for number in range(6)]
    ops = [
        Operation.objects.filter(code=f"busy-{n}").first() or operation(f"busy-{n}", at=benches[n % 6])
        for n in range(tasks_each)
    ]
    paths = {op.pk: [stage.pk for stage in op.stages.order_by("position")] for op in ops}
    first = Instrument.objects.count() + 2000
    pianos = Instrument.objects.bulk_create(
        Instrument(number=str(first + n), kind=Kind.GRAND, maker="Bexcombe", arrived_on="2026-01-05")
        for n in range(count)
    )
    tasks = Task.objects.bulk_create(
        Task(
            instrument=piano,
            department_id=op.department_id,
            operation=op,
            name=op.name,
            position=place,
            path=paths[op.pk],
            stage_id=paths[op.pk][-1 if place < (number % 6) else 0],
            hours_low=1,
            hours_likely=2,
            hours_high=4,
        )
        for number, piano in enumerate(pianos)
        for place, op in enumerate(ops)
    )
    TaskNeed.objects.bulk_create(
        TaskNeed(task=later, needs=earlier)
        for earlier, later in itertools.pairwise(tasks)
        if earlier.instrument_id == later.instrument_id
    )
