"""What stands against an instrument at this moment, over all its surveys."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from decimal import Decimal

from shopflow.catalogue.models import ComponentGroup, FindingKind

from ..models import Finding, Instrument

ASPECTS = ("safety", "playing", "tone", "looks", "durability")


@dataclass(frozen=True, slots=True)
class CurrentFinding:
    """A finding as it stands: where it was first written down, and the last word that was said of it.

    `first` is the row to tie things to (photos, offers, what is left as found): it stays the same whatever
    later surveys say. Severity, extent, confidence and verdict are those of the last word.
    """

    first: Finding
    latest: Finding

    @property
    def pk(self) -> int:
        return self.first.pk

    @property
    def number(self) -> int:
        return self.first.number

    @property
    def name(self) -> str:
        return self.first.name

    @property
    def kind(self) -> FindingKind | None:
        """From the library; None where it was found in own words, which no remedy is known for."""
        return self.first.kind

    @property
    def group(self) -> ComponentGroup:
        return self.first.group

    @property
    def state(self) -> str:
        return self.first.state

    @property
    def severity(self) -> int:
        return self.latest.severity

    @property
    def extent(self) -> Decimal | None:
        return self.latest.extent

    @property
    def extent_unit(self) -> str:
        return self.latest.extent_unit

    @property
    def how_much(self) -> str:
        return self.latest.how_much

    @property
    def confidence(self) -> str:
        return self.latest.confidence

    @property
    def verdict(self) -> str:
        """What the last survey that spoke of it said; empty when none has."""
        return self.latest.verdict

    @property
    def words(self) -> str:
        return self.latest.words or self.first.words

    @property
    def plain_words(self) -> str:
        """For the customer: the library's words, else its name as it was typed."""
        return (self.kind.plain_words if self.kind else "") or self.name

    @property
    def if_left(self) -> str:
        return self.kind.if_left if self.kind else ""

    @property
    def weights(self) -> dict[str, int]:
        """How much it touches safety, playing, tone, looks and durability, 0 to 3; in own words: 1 each."""
        return {aspect: getattr(self.kind, aspect) if self.kind else 1 for aspect in ASPECTS}


def current_findings(instrument: Instrument) -> list[CurrentFinding]:
    """The standing picture of an instrument, over all its surveys (the open one too): one query.

    One entry for each thing found, by its number. Left out are findings that were taken back and those
    that turned out to be "not so after all". Findings that are mended or left as found are in it: look at
    `state`. `first.photos` may be prefetched by whoever wants them.
    """
    rows = instrument.findings.filter(taken_back_at=None).select_related("kind", "group", "survey", "by")
    return standing_of(rows.order_by("number"))


def standing_of(rows: Iterable[Finding]) -> list[CurrentFinding]:
    """Each first word with the last one about it; rows in the order in which they were written."""
    firsts: dict[int, CurrentFinding] = {}
    for row in rows:
        if row.about_id is None:
            firsts[row.pk] = CurrentFinding(row, row)
        elif row.about_id in firsts:
            firsts[row.about_id] = CurrentFinding(firsts[row.about_id].first, row)
    return [
        found
        for found in firsts.values()
        if found.state != Finding.State.WITHDRAWN and found.verdict != Finding.Verdict.NOT_SO
    ]


def by_consequence(found: Iterable[CurrentFinding]) -> list[CurrentFinding]:
    """What matters most first: the graver, then the more it touches safety, playing and lasting."""

    def weight(one: CurrentFinding) -> tuple[int, ...]:
        of = one.weights
        rest = of["playing"] + of["tone"] + of["durability"]
        return -one.severity, -of["safety"], -rest, -of["looks"], one.number

    return sorted(found, key=weight)
