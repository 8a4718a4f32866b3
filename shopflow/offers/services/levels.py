"""The four usual ways to go, as choices of remedies: what each level mends, and why it leaves the rest."""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass

from shopflow.catalogue.models import Remedy
from shopflow.common.refusals import Refused
from shopflow.compute.errors import ComputeError
from shopflow.compute.worknet.levels import BESIDES, WITH_STRINGS_OFF
from shopflow.instruments.models import Finding
from shopflow.instruments.selectors import CurrentFinding
from shopflow.instruments.selectors.safety import is_unsafe
from shopflow.offers.models import Option
from shopflow.offers.selectors.whole_job import Reckoner

NAMES: Mapping[str, str] = {
    Option.Level.KEEP_GOING: "keep it going",
    Option.Level.GOOD_ORDER: "good order",
    Option.Level.REBUILT: "rebuilt",
    Option.Level.CASE_ONLY: "case only",
}
USUAL_BESIDES = tuple(
    dict.fromkeys(code for rows in (BESIDES, WITH_STRINGS_OFF) for codes in rows.values() for code in codes)
)
# Severity 2: it affects playing or looks, and will grow.
WORN = 2


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
    # The codes of the whole job where it was worked out already; else it is completed from the remedies.
    whole: frozenset[str] = frozenset()


WORDS = {
    Option.Level.KEEP_GOING: "Safe and playable, and no more than that: no promise of tone or looks.",
    Option.Level.GOOD_ORDER: (
        "Cleaned, repaired, regulated and tuned; the worst parts put right, the others kept as they are."
    ),
    Option.Level.REBUILT: "Taken apart; all worn parts renewed, touch and tone as they can be at their best.",
    Option.Level.CASE_ONLY: "The case and its fittings; what makes it play stays as it is, but for safety.",
}
# The same where something unsafe is left.
PLAIN_WORDS = {
    Option.Level.KEEP_GOING: "What keeps it from being played is mended, and no more than that.",
    Option.Level.GOOD_ORDER: WORDS[Option.Level.GOOD_ORDER],
    Option.Level.REBUILT: WORDS[Option.Level.REBUILT],
    Option.Level.CASE_ONLY: "The case and its fittings; what makes it play stays as it is.",
}


def way_for(
    level: str,
    found: Sequence[CurrentFinding],
    remedies: Mapping[int, list[Remedy]],
    reckoner: Reckoner,
) -> Way:
    """The usual choice of this level: consistent, and the least money; `remedies` by finding."""
    whole = _whole(level, found, reckoner)
    chosen = {
        one.pk: remedy for one in found if (remedy := _had_by(whole, remedies.get(one.pk, ()), reckoner))
    }
    added = _besides(whole, chosen.values(), reckoner)
    words = _words(level, [one for one in found if one.pk not in chosen])
    return Way(level, Option.Level(level).label, words, chosen, added, whole=whole)


def _whole(level: str, found: Iterable[CurrentFinding], reckoner: Reckoner) -> frozenset[str]:
    """The operations of this level; of several findings of one kind the worst counts."""
    severities: dict[str, int] = {}
    for one in found:
        if one.kind is not None and one.kind.retired_at is None:
            severities[one.kind.code] = max(one.severity, severities.get(one.kind.code, 0))
    try:
        known = reckoner.knowledge.level(NAMES[Option.Level(level)], severities)
    except ComputeError as wrong:
        raise Refused(f"“{Option.Level(level).label}” cannot be worked out: {wrong}") from wrong
    return frozenset(known.operations) | set(reckoner.every_job)


def _had_by(whole: frozenset[str], remedies: Sequence[Remedy], reckoner: Reckoner) -> Remedy | None:
    """Of the remedies whose work is in the job, or made needless by work in it, the one that cures most."""
    had = [one for one in remedies if _is_had(whole, one, reckoner)]
    return max(had, key=lambda one: (one.cures, _own_work(whole, one, reckoner)), default=None)


def _is_had(whole: frozenset[str], remedy: Remedy, reckoner: Reckoner) -> bool:
    known = reckoner.knowledge
    return all(
        one.code in whole or (one.code in known.codes and not known.instead_of(one.code).isdisjoint(whole))
        for one in reckoner.operations_of(remedy)
    )


def _own_work(whole: frozenset[str], remedy: Remedy, reckoner: Reckoner) -> int:
    return sum(one.code in whole for one in reckoner.operations_of(remedy))


def _besides(whole: frozenset[str], chosen: Iterable[Remedy], reckoner: Reckoner) -> frozenset[int]:
    """What the way has besides its repairs: as if added by hand, so that it stays when these change."""
    remedies, by_code = list(chosen), reckoner.by_code
    added = {by_code[code].pk for code in USUAL_BESIDES if code in whole & by_code.keys()}
    added -= {one.pk for remedy in remedies for one in reckoner.operations_of(remedy)}
    missing = whole - reckoner.job(remedies, added).codes
    return frozenset(added | {by_code[code].pk for code in missing if code in by_code})


def _words(level: str, left: Iterable[CurrentFinding]) -> str:
    """What is promised; never that it is safe where something is left that is not."""
    unsafe = [one.name for one in left if is_unsafe(one)]
    if not unsafe:
        return WORDS[Option.Level(level)]
    named = ", ".join(f"“{name}”" for name in unsafe)
    return f"{PLAIN_WORDS[Option.Level(level)]} Not safe as it stands: {named} is not mended here."


def why_left(level: str, one: CurrentFinding) -> str:
    """The usual reason, for the estimator to change."""
    if one.severity < WORN:
        return Finding.Reason.SOUND
    return Finding.Reason.WISH if level == Option.Level.CASE_ONLY else Finding.Reason.MONEY
