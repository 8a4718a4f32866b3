"""What a repair is worth: the plain model by which the best work for the money is chosen.

    harm    = severity / 4 × Σ over the five sides (weight × touch / 3) / Σ weights × extent × certainty × 100
    benefit = harm × the share of it that the remedy cures

Severity is 0 to 4. How much a kind of finding touches safety, playing, tone, looks and durability (0 to 3)
stands in the library; how much each side counts (0 to 10) is the shop's, under Set-up. So the worst there
is comes to 100. Extent counts by half: one note of 88 does half the harm of all 88. What nobody has seen
yet counts less. All of it is a rule of the shop for weighing one repair against another, not a measurement.
"""

from __future__ import annotations

from decimal import ROUND_HALF_UP, Decimal

from shopflow.catalogue.models import Remedy, Terms
from shopflow.instruments.models import Finding
from shopflow.instruments.selectors.findings import ASPECTS, CurrentFinding

WORST = 100
MOST_SEVERE = 4
WHOLLY = 3
# Half of the harm is there with the first of 88; the other half grows with their number.
AT_LEAST = 0.5
WHOLES = {
    Finding.Unit.OF_88: Decimal(88),
    Finding.Unit.OF_230: Decimal(230),
    Finding.Unit.PERCENT: Decimal(100),
}
# Common practice, no source: how far a word about what could not be seen is taken.
CERTAINTY: dict[str, float] = {
    Finding.Confidence.SEEN: 1.0,
    Finding.Confidence.INFERRED: 0.8,
    Finding.Confidence.HIDDEN: 0.5,
}
FINEST = Decimal("0.1")


def weights(terms: Terms) -> dict[str, float]:
    """How much each side counts in this shop."""
    return {aspect: float(getattr(terms, f"weighs_{aspect}")) for aspect in ASPECTS}


def harm(found: CurrentFinding, terms: Terms) -> float:
    """How bad a finding is as it stands, 0 to 100."""
    counts = weights(terms)
    whole = sum(counts.values())
    if not whole:
        return 0.0
    touched = sum(counts[aspect] * found.weights[aspect] / WHOLLY for aspect in ASPECTS) / whole
    return WORST * found.severity / MOST_SEVERE * touched * extent_share(found) * CERTAINTY[found.confidence]


def benefit(found: CurrentFinding, remedy: Remedy, terms: Terms) -> float:
    """What this remedy is worth for this finding, to a tenth."""
    worth = Decimal(harm(found, terms) * remedy.cures / 100)
    return float(worth.quantize(FINEST, ROUND_HALF_UP))


def extent_share(found: CurrentFinding) -> float:
    """1 where all is touched, where no whole is known, or where nobody counted."""
    whole = WHOLES.get(Finding.Unit(found.extent_unit)) if found.extent_unit else None
    if found.extent is None or whole is None:
        return 1.0
    return AT_LEAST + (1 - AT_LEAST) * float(min(Decimal(1), found.extent / whole))
