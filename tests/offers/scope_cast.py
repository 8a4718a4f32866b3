"""A small upright, a catalogue whose prices are easily added up, and money to be moved."""

from __future__ import annotations

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
from shopflow.instruments.models import Finding, Instrument, Survey
from shopflow.people.models import Person
from tests import cast

# An hour costs 10, the margin is 100 %, materials cost nothing: the price is hours × 20.
HOURS = {
    "receive": 1,
    "plate-out": 10,
    "plate-in": 5,
    "crack": 4,
    "block": 20,
    "file": 2,
    "hammers": 15,
    "leg": 3,
}
# The plate is out for the crack and for the block; new hammers throw the old ones away.
STATES = {
    "receive": {"leaves": {"house": "arrived"}},
    "plate-out": {"opens": {"plate": "out"}},
    "plate-in": {"leaves": {"plate": "in"}},
    "crack": {"needs": {"plate": "at most out"}},
    "block": {"needs": {"plate": "at most out"}},
    "file": {"keeps": ["hammers"]},
    "hammers": {"renews": ["hammers"]},
}
# Finding: severity, what it touches, its remedies (operation, share cured), the lightest first.
FINDINGS = {
    "crack": (2, {"tone": 3}, [("crack", 100)]),
    "block": (3, {"tone": 3, "durability": 3}, [("block", 100)]),
    "hammers": (2, {"tone": 2, "playing": 2}, [("file", 50), ("hammers", 100)]),
    "leg": (4, {"safety": 3}, [("leg", 100)]),
    # Flat hammers are filed, and only filed.
    "flat": (2, {"tone": 2}, [("file", 100)]),
}


class Upright:
    """The findings asked for, each with its kind and remedies; nothing else in the shop."""

    def __init__(self, *found: str, **terms: object) -> None:
        cast.shop()
        self.by: Person = cast.manager()
        facts = {"margin_percent": 100, "round_to": 10, "weighs_safety": 5, "weighs_playing": 3}
        facts |= {"weighs_tone": 3, "weighs_looks": 1, "weighs_durability": 2}
        self.terms = Terms.objects.create(pk=1, **(facts | terms))
        self.bench = cast.department("final")
        Department.objects.update(rate=Decimal(10))
        self.operations = {code: self._operation(code, hours) for code, hours in HOURS.items()}
        Operation.objects.filter(code="receive").update(in_every_job=True)
        cast.line("house", "away", "arrived", found="away")
        cast.line("plate", "out", "in")
        for code, state in STATES.items():
            cast.says(self.operations[code], **state)
        self.group = ComponentGroup.objects.create(code="strung-back", name="Strung back")
        self.instrument: Instrument = cast.instrument(by=self.by, number="214")
        self.survey = Survey.objects.create(instrument=self.instrument, number=1, by=self.by)
        self.remedies: dict[str, Remedy] = {}
        self.findings = {name: self.find(name) for name in found}

    def find(self, name: str, **given: object) -> Finding:
        severity, touches, remedies = FINDINGS[name]
        kind, is_new = FindingKind.objects.get_or_create(
            code=name,
            defaults={"group": self.group, "name": name, "if_left": f"The {name} gets worse."} | touches,
        )
        for place, (code, cures) in enumerate(remedies if is_new else ()):
            made = Remedy.objects.create(
                code=f"{name}-{code}",
                finding_kind=kind,
                name=f"do {name if name == 'flat' else code}",
                position=place,
                cures=cures,
            )
            made.operations.add(self.operations[code])
            self.remedies.setdefault(code, made)
        number = self.instrument.findings.count() + 1
        facts = {
            "kind": kind,
            "group": self.group,
            "severity": severity,
            "by": self.by,
            "name": f"{name} worn",
        }
        return Finding.objects.create(
            survey=self.survey, instrument=self.instrument, number=number, **(facts | given)
        )

    def choice(self, finding: str, remedy: str = "") -> str:
        """Its name in a scope."""
        return f"{self.findings[finding].pk}:{self.remedies[remedy or finding].pk}"

    def _operation(self, code: str, hours: int) -> Operation:
        sides = {
            f"{kind}_{step}": hours for kind in ("upright", "grand") for step in ("low", "likely", "high")
        }
        return cast.operation(code, at=self.bench, **sides)


def bands() -> None:
    MaterialBand.objects.create(code="M1", low=20, likely=50, high=100)
