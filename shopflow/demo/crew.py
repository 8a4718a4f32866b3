"""The invented people of Quillmere Piano Works. Nobody here exists."""

from __future__ import annotations

import secrets
from contextlib import suppress
from dataclasses import dataclass
from decimal import Decimal

from shopflow.catalogue.models import Department
from shopflow.people import pins
from shopflow.people.models import Person, Role, Tablet, WorkingDay
from shopflow.people.tablets import make_code


@dataclass(frozen=True, slots=True)
class Member:
    name: str
    role: str = Role.HAND
    home: str = ""
    also: tuple[str, ...] = ()
    hours: tuple[float, ...] = (8, 8, 8, 8, 6)
    pace: float = 1.0

    @property
    def sign_in_name(self) -> str:
        return self.name.split()[0].lower()


CREW = (
    Member("Ottilie Marsh", Role.OWNER, hours=()),
    Member("Maud Ferrier", Role.MANAGER, hours=(8, 8, 8, 8, 6)),
    Member("Finn Tarrow", home="refinishing"),
    Member("Greta Lunt", home="refinishing", also=("plating",)),
    Member("Pia Orme", home="plating", also=("refinishing",), hours=(6, 6, 6, 6, 0)),
    Member("Ansel Brack", home="action"),
    Member("Nerys Holm", home="action"),
    Member("Lorcan Pell", home="action", hours=(0, 8, 8, 8, 0), pace=0.8),
    Member("Bram Ketley", home="soundboard", also=("stringing", "final")),
    Member("Saskia Dunmore", home="stringing", also=("soundboard", "action")),
    Member("Wilhelmina Roe", home="final", also=("action",)),
    Member("Casper Hythe", home="final", also=("stringing",)),
)

_WORDS = (
    "spruce maple walnut beech felt hammer damper bridge treble tenor octave pedal lyre castor veneer "
    "shellac harbour lantern gull tide anchor rope kettle bramble heron clover"
).split()


@dataclass(frozen=True, slots=True)
class Way:
    """How one person of the demo signs in; made anew at each loading and written to the data folder only."""

    person: Person
    password: str
    pin: str


def hire() -> list[Way]:
    """Create everybody with a password and a PIN of their own that nobody could guess."""
    departments = {one.code: one for one in Department.objects.all()}
    return [_hire(member, departments) for member in CREW]


def _hire(member: Member, departments: dict[str, Department]) -> Way:
    password = "-".join([*(secrets.choice(_WORDS) for _ in range(3)), str(secrets.randbelow(90) + 10)])
    person = Person.objects.create_person(
        sign_in_name=member.sign_in_name,
        name=member.name,
        role=member.role,
        home=departments.get(member.home),
        password=password,
    )
    person.benches.set(departments[code] for code in member.also)
    WorkingDay.objects.bulk_create(
        WorkingDay(person=person, weekday=day, hours=Decimal(str(hours)))
        for day, hours in enumerate(member.hours)
        if hours
    )
    pin = _pin()
    person.pin_hash = pins.make(pin)
    person.save(update_fields=["pin_hash"])
    return Way(person, password, pin)


def _pin() -> str:
    """Six digits that the shop itself would let somebody choose."""
    while True:
        pin = f"{secrets.randbelow(10**pins.LENGTH):0{pins.LENGTH}d}"
        with suppress(pins.PinRefused):
            pins.check_choice(pin)
            return pin


def tablets() -> list[tuple[Tablet, str]]:
    """One tablet for each bench, each with a code that turns any device into it."""
    made = []
    for department in Department.objects.in_use():
        tablet = Tablet.objects.create(name=f"{department.name} tablet", department=department)
        made.append((tablet, make_code(tablet=tablet, minutes=60 * 24 * 30)))
    return made


def paper(ways: list[Way], codes: list[tuple[Tablet, str]]) -> str:
    """What is printed at the start: everybody's way in, and the codes of the tablets."""
    lines = ["The demo shop is invented. Sign in with a name and its password:", ""]
    lines += [_line(way) for way in ways]
    lines += ["", "A PIN opens only an enrolled tablet. Open /tablet/ there and type its code:", ""]
    lines += [f"  {tablet.name:<22} {code[:4]} {code[4:]}" for tablet, code in codes]
    return "\n".join(lines) + "\n"


def _line(way: Way) -> str:
    who = way.person
    return f"  {who.get_role_display():<11} {who.sign_in_name:<11} {way.password:<32} PIN {way.pin}"
