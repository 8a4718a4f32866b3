"""A small shop with a soundboard crack that came to light after teardown."""

from __future__ import annotations

from decimal import Decimal

from django.test import Client

from shopflow.catalogue.models import ComponentGroup, FindingKind, Operation, Remedy, Terms
from shopflow.instruments.models import Finding, Instrument, Survey
from shopflow.offers.models import ChangeChoice, ChangeOrder
from shopflow.offers.services import changes
from shopflow.people.models import Person
from tests import cast

PRIVATE = ("Perdita Vane-Quist", "perdita@private.example")


class Crack:
    """An upright whose open crack can be shimmed, filled, or left; strings go on after it."""

    def __init__(self, **terms: object) -> None:
        self.shop = cast.shop()
        self.manager = cast.manager()
        self.bench = cast.department("soundboard")
        self.bench.rate = Decimal(40)
        self.bench.save()
        self.refinishing = cast.department("refinishing")
        self.hand = cast.person("Ada Lund", home=self.bench)
        self.terms = Terms.objects.create(pk=1, margin_percent=25, round_to=10, **terms)
        self.customer = cast.customer(PRIVATE[0], email=PRIVATE[1])
        self.instrument = cast.instrument(by=self.manager, customer=self.customer, number="214")
        self._operations()
        self._library()
        self.tasks = {
            code: cast.task(self.operations[code], on=self.instrument, by=self.manager)
            for code in ("strings-off", "string-treble", "rub-out")
        }
        self.finding = self.add_finding()

    def _operations(self) -> None:
        hours = {"upright_low": 2, "upright_likely": 4, "upright_high": 8}
        places = dict.fromkeys(("strings-off", "crack-shim", "crack-fill", "string-treble"), self.bench)
        self.operations: dict[str, Operation] = {
            code: cast.operation(code, at=at, **hours)
            for code, at in {**places, "rub-out": self.refinishing}.items()
        }
        cast.line("strings", "off", "on")
        cast.says(self.operations["strings-off"], opens={"strings": "off"})
        for code in ("crack-shim", "crack-fill"):
            cast.says(self.operations[code], needs={"strings": "at most off"})
        cast.says(
            self.operations["string-treble"], needs={"strings": "at most off"}, leaves={"strings": "on"}
        )

    def _library(self) -> None:
        self.group = ComponentGroup.objects.create(code="soundboard", name="Soundboard")
        self.kind = FindingKind.objects.create(
            code="sb2",
            group=self.group,
            name="Soundboard crack open",
            plain_words="The soundboard has a crack that is open.",
            if_left="It may buzz, and more so in dry winters.",
            tone=3,
        )
        for place, (code, cures) in enumerate({"crack-fill": 60, "crack-shim": 100}.items()):
            remedy = Remedy.objects.create(
                code=f"sb2-{code}", finding_kind=self.kind, name=code, position=place, cures=cures
            )
            remedy.operations.add(self.operations[code])

    def add_finding(self, name: str = "Open crack", **given: object) -> Finding:
        survey, _ = Survey.objects.get_or_create(
            instrument=self.instrument, number=2, defaults={"occasion": "teardown", "by": self.hand}
        )
        usual = {"kind": self.kind, "group": self.group, "severity": 3, "confidence": "seen", "by": self.hand}
        number = Finding.objects.filter(instrument=self.instrument).count() + 1
        return Finding.objects.create(
            survey=survey, instrument=self.instrument, number=number, name=name, **(usual | given)
        )

    def draft(self, **facts: object) -> ChangeOrder:
        """Begun from the finding, and with all said that has to be said."""
        change = changes.begin(finding=self.finding, by=self.manager)
        change.why_hidden = "It was under the strings."
        for name, fact in facts.items():
            setattr(change, name, fact)
        change.save()
        for choice in change.choices.exclude(kind="leave"):
            choice.days_low, choice.days_high = 3, 7
            choice.save()
        return change

    def sent(self, **facts: object) -> ChangeOrder:
        change = self.draft(**facts)
        return changes.send(change=change, seen_edition=change.edition, by=self.manager)

    def choice(self, change: ChangeOrder, kind: str) -> ChangeChoice:
        return change.choices.get(kind=kind)


def signed_in(who: Person) -> Client:
    browser = Client()
    browser.force_login(who)
    return browser


def stopped(instrument: Instrument) -> set[str]:
    """The operations of this instrument that a snag stops now."""
    from shopflow.workshop.models import Snag

    rows = Snag.objects.open().filter(task__instrument=instrument)
    return set(rows.values_list("task__operation__code", flat=True))
