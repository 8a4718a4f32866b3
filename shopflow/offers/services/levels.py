"""The four usual ways to go, as choices of remedies: what each level mends, and why it leaves the rest."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass

from shopflow.catalogue.models import Remedy
from shopflow.instruments.models import Finding
from shopflow.instruments.selectors import CurrentFinding
from shopflow.offers.models import Option

CASE_GROUPS = frozenset({"case", "hardware", "casters"})
# Severity 2: it affects playing or looks, and will grow.
WORN = 2
BROKEN = 3
UNSAFE = 4
MUCH = 2


@dataclass(frozen=True, slots=True)
class Way:
    """One way to go: the remedy chosen for each finding that is mended; what is not in it is left."""

    level: str
    name: str
    words: str
    remedies: Mapping[int, Remedy]
    # Operations that the estimator added, and the findings that they mend without a remedy of the library.
    added: frozenset[int] = frozenset()
    by_hand: frozenset[int] = frozenset()


WORDS = {
    Option.Level.KEEP_GOING: "Safe and playable, and no more than that: no promise of tone or looks.",
    Option.Level.GOOD_ORDER: (
        "Cleaned, repaired, regulated and tuned; the worst parts put right, the others kept as they are."
    ),
    Option.Level.REBUILT: "Taken apart; all worn parts renewed, touch and tone as they can be at their best.",
    Option.Level.CASE_ONLY: "The case and its fittings; what makes it play stays as it is, but for safety.",
}


def way_for(level: str, found: Iterable[CurrentFinding], remedies: Mapping[int, list[Remedy]]) -> Way:
    """The usual choice of this level; `remedies` by finding, the lightest first."""
    chosen: dict[int, Remedy] = {}
    for one in found:
        fitting = remedies.get(one.pk, [])
        if fitting and _is_mended(level, one):
            chosen[one.pk] = fitting[-1] if level == Option.Level.REBUILT else fitting[0]
    return Way(level, Option.Level(level).label, WORDS[Option.Level(level)], chosen)


def is_required(one: CurrentFinding) -> bool:
    """Nobody may be handed a piano with this as it is, whatever the level."""
    return one.severity >= UNSAFE or (one.severity >= BROKEN and one.weights["safety"] >= MUCH)


def why_left(level: str, one: CurrentFinding) -> str:
    """The usual reason, for the estimator to change."""
    if one.severity < WORN:
        return Finding.Reason.SOUND
    return Finding.Reason.WISH if level == Option.Level.CASE_ONLY else Finding.Reason.MONEY


def _is_mended(level: str, one: CurrentFinding) -> bool:
    if is_required(one):
        return True
    if level == Option.Level.KEEP_GOING:
        return one.severity >= BROKEN and one.weights["playing"] >= MUCH
    if level == Option.Level.GOOD_ORDER:
        return one.severity >= WORN
    if level == Option.Level.CASE_ONLY:
        return one.group.code in CASE_GROUPS
    return level == Option.Level.REBUILT and one.severity > 0
