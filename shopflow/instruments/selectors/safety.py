"""What is unsafe on an instrument and still open, and who answers for it: the one rule that every door asks.

A door is where something leaves the shop's hands: an offer that is sent, a change order that is settled, the
final check, the handing over, the piano itself. See `services/safety.py` for the refusal.
"""

from __future__ import annotations

from collections.abc import Callable, Collection, Iterable
from dataclasses import dataclass

from shopflow.compute import unsafe

from ..models import Finding, Instrument, LeftUnsafe
from .findings import CurrentFinding, by_consequence, current_findings

Mended = Callable[[Instrument], Collection[int]]
_mended: list[Mended] = []
SETTLED = {Finding.State.MENDED, Finding.State.WITHDRAWN}


def ask_what_is_mended(look: Mended) -> None:
    """For parts of the house above this one: how to know which findings the signed work mended already."""
    if look not in _mended:
        _mended.append(look)


def is_unsafe(one: CurrentFinding) -> bool:
    """Nobody may be handed a piano with this as it is, unless it was put in writing."""
    if one.kind is None:
        # In own words there is no library to ask: whoever called it unsafe meant it.
        return one.severity >= unsafe.GRAVEST
    weights = one.weights
    return unsafe.is_unsafe(
        severity=one.severity,
        stops=one.kind.stops,
        safety=weights["safety"],
        playing=weights["playing"],
    )


def forbids_pitch(one: CurrentFinding) -> bool:
    """While this is left the piano is furniture, and is not to be tuned."""
    return one.kind is not None and unsafe.forbids_pitch(severity=one.severity, stops=one.kind.stops)


@dataclass(frozen=True, slots=True)
class Unsafe:
    """An unsafe finding that is still open, with the answer that holds for it, if there is one."""

    found: CurrentFinding
    answer: LeftUnsafe | None

    @property
    def words(self) -> str:
        return f"{self.found.number}. {self.found.name}"


def unsafe_and_open(instrument: Instrument) -> list[Unsafe]:
    """The gravest first; one query where nothing is unsafe."""
    found = [one for one in current_findings(instrument) if one.state not in SETTLED and is_unsafe(one)]
    if not found:
        return []
    done = {pk for look in _mended for pk in look(instrument)}
    found = [one for one in found if one.pk not in done]
    answers = answers_of(instrument)
    return [Unsafe(one, _holding(answers.get(one.pk), one, instrument)) for one in by_consequence(found)]


def unanswered(instrument: Instrument) -> list[Unsafe]:
    """What no door lets through."""
    return [one for one in unsafe_and_open(instrument) if one.answer is None]


def answered(instrument: Instrument) -> list[Unsafe]:
    """What goes out unsafe, with the answer that lets it through."""
    return [one for one in unsafe_and_open(instrument) if one.answer is not None]


def answers_of(instrument: Instrument) -> dict[int, LeftUnsafe]:
    """By finding, those that nobody ended."""
    rows = LeftUnsafe.objects.filter(finding__instrument=instrument, ended_at=None)
    return {row.finding_id: row for row in rows.select_related("by")}


def in_words(left: Iterable[Unsafe]) -> str:
    return "; ".join(one.words for one in left)


def _holding(answer: LeftUnsafe | None, one: CurrentFinding, instrument: Instrument) -> LeftUnsafe | None:
    """An answer holds for no graver finding than it was given for, and for nobody else's piano."""
    if answer is None or answer.severity < one.severity or answer.customer_id != instrument.customer_id:
        return None
    return answer
