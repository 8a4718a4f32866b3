"""All that is known of an instrument when its scope is weighed, read once."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from decimal import Decimal

from shopflow.catalogue.models import Operation, Remedy, Terms
from shopflow.instruments.models import Finding, Instrument
from shopflow.instruments.selectors.findings import CurrentFinding, by_consequence, current_findings
from shopflow.offers.benefit import benefit, harm
from shopflow.offers.pricing import Line
from shopflow.offers.selectors.whole_job import Reckoner
from shopflow.offers.services.levels import is_required

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
        """Nine queries, however many findings there are."""
        reckoner = Reckoner.of(instrument)
        found = by_consequence(one for one in current_findings(instrument) if one.state in OPEN_STATES)
        by_kind = _remedies_by_kind(instrument, found)
        return cls(instrument, reckoner, tuple(_weighed(one, by_kind, reckoner) for one in found))

    @property
    def terms(self) -> Terms:
        return self.reckoner.terms

    @property
    def mendable(self) -> list[Weighed]:
        return [one for one in self.findings if one.remedies]

    @property
    def beyond_the_library(self) -> list[Weighed]:
        """Found in own words, or of a kind for which no remedy is known here: settled by hand."""
        return [one for one in self.findings if not one.remedies]

    @property
    def every_job(self) -> list[Operation]:
        return [one for one in self.reckoner.operations.values() if one.in_every_job]

    @property
    def whole_harm(self) -> float:
        return sum(one.harm for one in self.findings)

    def operations_of(self, remedy: Remedy) -> list[Operation]:
        """What the remedy takes, as far as it is done on this kind of instrument."""
        known = self.reckoner.operations
        return [known[one.pk] for one in remedy.operations.all() if one.pk in known]

    def needed_by(self, operation: Operation) -> list[Operation]:
        """What comes with an operation: what must be open for it, and what closes it again."""
        known = self.reckoner.operations
        both = (*operation.must.all(), *operation.brings.all())
        return [known[one.pk] for one in both if one.pk in known]

    def all_needed(self, remedies: Iterable[Remedy]) -> set[int]:
        """Keys of all operations that these take, opened and closed, but for what every job has."""
        found, waiting = set[int](), [one for remedy in remedies for one in self.operations_of(remedy)]
        while waiting:
            operation = waiting.pop()
            if operation.pk not in found:
                found.add(operation.pk)
                waiting += self.needed_by(operation)
        return found - {one.pk for one in self.every_job}

    def line(self, operation: Operation) -> Line:
        return self.reckoner.line(operation)

    def benefit(self, one: Weighed, remedy: Remedy) -> float:
        return benefit(one.found, remedy, self.terms)

    def price(self, cost: Decimal) -> Decimal:
        """What a sum of lines comes to for the customer."""
        return self.reckoner.rounded(cost)


def _weighed(one: CurrentFinding, by_kind: dict[int, list[Remedy]], reckoner: Reckoner) -> Weighed:
    listed = by_kind.get(one.kind.pk, []) if one.kind else []
    known = [
        remedy for remedy in listed if {op.pk for op in remedy.operations.all()} & set(reckoner.operations)
    ]
    return Weighed(one, tuple(known), harm(one, reckoner.terms), is_required(one))


def _remedies_by_kind(instrument: Instrument, found: Sequence[CurrentFinding]) -> dict[int, list[Remedy]]:
    kinds = {one.kind.pk for one in found if one.kind}
    rows = Remedy.objects.in_use().filter(finding_kind__in=kinds, only_for__in=("", instrument.kind))
    by_kind: dict[int, list[Remedy]] = {}
    for remedy in rows.prefetch_related("operations").order_by("position", "pk"):
        by_kind.setdefault(remedy.finding_kind_id, []).append(remedy)
    return by_kind
