"""How many parts of one kind belong in a crate, are out, and are missing: reckoned from the ledger."""

from __future__ import annotations

from dataclasses import dataclass, replace

from shopflow.instruments.models import CrateMove

Kind = CrateMove.Kind


@dataclass(frozen=True, slots=True)
class Tally:
    """Of one kind of part: how many belong here, how many were counted out, how many were looked for in vain.

    >>> Tally(count=12, away=4, missing=1).here
    7
    """

    count: int = 0
    away: int = 0
    missing: int = 0

    @property
    def here(self) -> int:
        return self.count - self.away - self.missing

    @property
    def gone(self) -> int:
        return self.away + self.missing


def after(before: Tally, kind: str, count: int, *, rest_follows: bool = False) -> Tally:
    """What one counted line of the ledger makes of it.

    >>> after(Tally(count=12), "out", 12)
    Tally(count=12, away=12, missing=0)
    >>> after(Tally(count=12, away=12), "in", 11)
    Tally(count=12, away=0, missing=1)
    >>> after(Tally(count=12, away=12), "in", 11, rest_follows=True)
    Tally(count=12, away=1, missing=0)
    >>> after(Tally(count=12, missing=1), "counted", 12)
    Tally(count=12, away=0, missing=0)
    >>> after(Tally(count=12, missing=2), "right", 11)
    Tally(count=11, away=0, missing=1)
    """
    if kind == Kind.PACKED:
        return replace(before, count=before.count + count)
    if kind == Kind.OUT:
        return replace(before, away=before.away + count)
    if kind == Kind.IN:
        return _come_back(before, count, rest_follows)
    if kind == Kind.COUNTED:
        return replace(before, missing=before.count - before.away - count)
    if kind == Kind.RIGHT:
        return _put_right(before, count)
    return before


def _put_right(before: Tally, count: int) -> Tally:
    """Fewer belong than was believed: those that are missing were never there."""
    never_there = max(0, before.count - count)
    return Tally(count, before.away, max(0, before.missing - never_there))


def _come_back(before: Tally, count: int, rest_follows: bool) -> Tally:
    """What does not come back is missing, unless it is known to be still there."""
    gone = before.gone - count
    missing = min(before.missing, gone) if rest_follows else gone
    return replace(before, away=gone - missing, missing=missing)
