"""All that is known of an instrument when its scope is weighed, read once."""

from __future__ import annotations

from dataclasses import dataclass
from decimal import Decimal

from shopflow.catalogue.models import Operation, Remedy, Terms
from shopflow.compute.worknet import Knowledge
from shopflow.instruments.models import Finding, Instrument
from shopflow.instruments.selectors.findings import CurrentFinding, by_consequence, current_findings
from shopflow.instruments.selectors.safety import is_unsafe
from shopflow.offers.benefit import benefit, harm
from shopflow.offers.pricing import Line
from shopflow.offers.selectors.remedies import remedies_by_finding
from shopflow.offers.selectors.whole_job import Reckoner

# What is mended or in work already is not weighed once more.
OPEN_STATES = {Finding.State.OPEN, Finding.State.LEFT}


@dataclass(frozen=True, slots=True)
class Weighed:
    """A finding with the remedies that can be done here, the lightest first; and how bad it is, 0 to 100."""

    found: CurrentFinding
    remedies: tuple[Remedy, ...]
    harm: float
    is_required: bool

    @property
    def pk(self) -> int:
        return self.found.pk


@dataclass(frozen=True, slots=True)
class Weighing:
    instrument: Instrument
    reckoner: Reckoner
    findings: tuple[Weighed, ...]

    @classmethod
    def of(cls, instrument: Instrument) -> Weighing:
        """Eleven queries, however many findings there are."""
        reckoner = Reckoner.of(instrument)
        found = by_consequence(one for one in current_findings(instrument) if one.state in OPEN_STATES)
        remedies = remedies_by_finding(instrument, found, reckoner.operations)
        rows = (
            Weighed(one, tuple(remedies.get(one.pk, ())), harm(one, reckoner.terms), is_unsafe(one))
            for one in found
        )
        return cls(instrument, reckoner, tuple(rows))

    @property
    def terms(self) -> Terms:
        return self.reckoner.terms

    @property
    def knowledge(self) -> Knowledge:
        return self.reckoner.knowledge

    @property
    def mendable(self) -> list[Weighed]:
        return [one for one in self.findings if one.remedies]

    @property
    def beyond_the_library(self) -> list[Weighed]:
        """Found in own words, or of a kind for which no remedy is known here: settled by hand."""
        return [one for one in self.findings if not one.remedies]

    @property
    def every_job(self) -> set[str]:
        """Codes of what every job has, whatever is mended."""
        always = {rule.adds[0] for rule in self.knowledge.rules() if not rule.body and len(rule.adds) == 1}
        return (always | set(self.reckoner.every_job)) & self.reckoner.by_code.keys()

    @property
    def whole_harm(self) -> float:
        return sum(one.harm for one in self.findings)

    def operations_of(self, remedy: Remedy) -> list[Operation]:
        """What the remedy takes, as far as it is done on this kind of instrument."""
        return self.reckoner.operations_of(remedy)

    def line(self, operation: Operation) -> Line:
        return self.reckoner.line(operation)

    def benefit(self, one: Weighed, remedy: Remedy) -> float:
        return benefit(one.found, remedy, self.terms)

    def price(self, cost: Decimal) -> Decimal:
        """What a sum of lines comes to for the customer."""
        return self.reckoner.rounded(cost)
