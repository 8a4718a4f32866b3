"""A small piano with four findings, a catalogue that mends three of them, and money in it."""

from __future__ import annotations

from dataclasses import dataclass
from decimal import Decimal

from shopflow.catalogue.models import (
    ComponentGroup,
    Department,
    FindingKind,
    MaterialBand,
    Operation,
    Remedy,
    Terms,
)
from shopflow.customers.models import PrivateLink
from shopflow.instruments.models import Finding, Instrument, Survey
from shopflow.offers.models import Offer, Option
from shopflow.offers.services import drafting, sending
from shopflow.people.models import Person
from tests import cast

SECRET_COST = Decimal("31.37")


@dataclass
class Piano:
    """All that stands around one piano in these tests."""

    by: Person
    instrument: Instrument
    operations: dict[str, Operation]
    findings: dict[str, Finding]
    remedies: dict[str, Remedy]


def catalogue() -> tuple[dict[str, Operation], dict[str, Remedy]]:
    """Receiving is in every job; the bridge needs the strings off, and they go on again."""
    if Remedy.objects.exists():
        return {one.code: one for one in Operation.objects.all()}, {
            one.code: one for one in Remedy.objects.all()
        }
    Terms.objects.update_or_create(
        pk=1, defaults={"margin_percent": 25, "round_to": 10, "deposit_percent": 30, "holds_days": 30}
    )
    MaterialBand.objects.create(code="M1", low=5, likely=10, high=20)
    benches = [cast.department(code) for code in ("final", "strings", "board", "case")]
    Department.objects.update(rate=SECRET_COST)
    codes = ("receive", "off", "on", "bridge", "hammers", "veneer")
    places = (0, 1, 1, 2, 0, 3)
    ops = {
        code: cast.operation(code, at=benches[place], materials="M1")
        for code, place in zip(codes, places, strict=True)
    }
    Operation.objects.filter(code="receive").update(in_every_job=True)
    cast.line("house", "away", "arrived", found="away")
    cast.line("strings", "off", "on")
    cast.says(ops["receive"], leaves={"house": "arrived"})
    cast.says(ops["off"], opens={"strings": "off"}, needs={"house": "at least arrived"})
    cast.says(ops["bridge"], needs={"strings": "at most off"})
    cast.says(ops["on"], leaves={"strings": "on"})
    groups = {
        code: ComponentGroup.objects.create(code=code, name=code.capitalize(), position=place)
        for place, code in enumerate(("case", "bridges", "action"))
    }
    remedies = {}
    for code, group, safety, playing in (
        ("bridge", "bridges", 2, 3),
        ("hammers", "action", 0, 2),
        ("veneer", "case", 0, 0),
    ):
        kind = FindingKind.objects.create(
            code=code,
            group=groups[group],
            name=f"{code} worn",
            plain_words=f"The {code} shows its age.",
            if_left=f"The {code} gets worse.",
            safety=safety,
            playing=playing,
            stops=FindingKind.Stops.SAFE if code == "bridge" else "",
        )
        remedies[code] = Remedy.objects.create(
            code=f"mend-{code}", finding_kind=kind, name=f"Mend the {code}"
        )
        remedies[code].operations.set([ops[code]])
    return {one.code: one for one in Operation.objects.all()}, remedies


def piano(by: Person | None = None, number: str = "214", **given: object) -> Piano:
    """In the house, surveyed: bridge broken and unsafe, hammers worn, veneer worn, and a smell of smoke."""
    by = by or cast.manager()
    cast.shop(address="Harbour Road")
    ops, remedies = catalogue()
    owner = cast.customer(email="agnes@applegarth.example")
    instrument = cast.instrument(by=by, number=number, **({"customer": owner} | given))
    survey = Survey.objects.create(instrument=instrument, number=1, by=by)
    findings = {}
    for place, (code, severity) in enumerate((("bridge", 3), ("hammers", 2), ("veneer", 2), ("smell", 1)), 1):
        kind = remedies[code].finding_kind if code in remedies else None
        group = kind.group if kind else ComponentGroup.objects.get(code="case")
        findings[code] = Finding.objects.create(
            survey=survey,
            instrument=instrument,
            group=group,
            kind=kind,
            number=place,
            name=f"{code} worn" if kind else "Smells of smoke",
            severity=severity,
            by=by,
        )
    return Piano(by, instrument, ops, findings, remedies)


def draft(there: Piano, *levels: str) -> Offer:
    levels = levels or (Option.Level.KEEP_GOING, Option.Level.GOOD_ORDER)
    return drafting.draft(instrument=there.instrument, levels=levels, by=there.by)


def sent(there: Piano, *levels: str) -> tuple[Offer, PrivateLink]:
    offer = draft(there, *levels)
    out = sending.send(offer=offer, seen_edition=offer.edition, by=there.by)
    return out.offer, out.fresh.link
