"""When the shop is open: a table of spells, and the way between open hours and the clock.

Work takes open hours; rests, releases and due dates are told by the clock. Both are counted in hours from the
moment the plan begins. A holiday is a spell left out of the table, a half day is a short one, and nothing
else of the plan needs to know.
"""

from __future__ import annotations

import math
from bisect import bisect_right
from collections.abc import Iterator, Sequence
from dataclasses import dataclass, field

import numpy as np

from shopflow.compute.errors import ComputeError

WEEK_HOURS = 168.0

Spell = tuple[float, float]


@dataclass(frozen=True, slots=True)
class ShopHours:
    """The shop's opening spells as (opens, closes), in clock hours from the moment the plan begins.

    Past the end of the table its last week repeats for ever, so that a plan never runs out of days.

    >>> days = ShopHours([(0, 8), (24, 32)])
    >>> days.finish_of(start=6, hours=4)
    26.0
    >>> days.opens_at_or_after(10)
    24.0
    """

    spells: Sequence[Spell]
    _week: tuple[Spell, ...] = field(init=False, repr=False, compare=False)
    _closings: tuple[float, ...] = field(init=False, repr=False, compare=False)

    def __post_init__(self) -> None:
        spells = tuple((float(opens), float(closes)) for opens, closes in self.spells)
        _refuse_bad_spells(spells)
        week_began = spells[-1][1] - WEEK_HOURS
        object.__setattr__(self, "spells", spells)
        object.__setattr__(self, "_week", tuple(spell for spell in spells if spell[0] >= week_began))
        object.__setattr__(self, "_closings", tuple(closes for _, closes in spells))
        if not self._week:
            raise ComputeError("spells", spells[-1], "a last spell no longer than a week")

    def opens_at_or_after(self, clock: float) -> float:
        """The first open moment from a moment of the clock onwards, in clock hours."""
        return next(self.open_between(clock, math.inf))[0]

    def finish_of(self, *, start: float, hours: float) -> float:
        """When work of so many open hours ends, begun at a moment of the clock."""
        left = hours
        for opens, closes in self.open_between(start, math.inf):
            if closes - opens >= left:
                return opens + left
            left -= closes - opens
        raise AssertionError("the last week repeats for ever")

    def open_between(self, start: float, end: float) -> Iterator[Spell]:
        """The open parts (from, to) of a stretch of the clock, in order."""
        index = self._first_closing_after(start)
        while (spell := self.spell(index))[0] < end:
            if spell[1] > start:
                yield max(start, spell[0]), min(end, spell[1])
            index += 1

    def spell(self, index: int) -> Spell:
        """Spell number so-and-so, counted on into the repeated weeks."""
        if index < len(self.spells):
            return self.spells[index]
        weeks, place = divmod(index - len(self.spells), len(self._week))
        opens, closes = self._week[place]
        shift = WEEK_HOURS * (weeks + 1)
        return opens + shift, closes + shift

    def table(self, open_hours: float) -> tuple[np.ndarray, np.ndarray]:
        """Every opening and every closing until the shop has been open for more than so many hours.

        >>> ShopHours([(0, 8), (24, 32)]).table(12)[0].tolist()
        [0.0, 24.0, 168.0, 192.0]
        """
        per_week = math.fsum(closes - opens for opens, closes in self._week)
        weeks = np.arange(1, int(open_hours / per_week) + 2) * WEEK_HOURS
        repeated = np.array(self._week) + weeks[:, None, None]
        return tuple(np.concatenate([self.spells, repeated.reshape(-1, 2)]).T)

    def _first_closing_after(self, clock: float) -> int:
        beyond = clock - self._closings[-1]
        if beyond < 0:
            return bisect_right(self._closings, clock)
        return len(self.spells) + int(beyond // WEEK_HOURS) * len(self._week)


def _refuse_bad_spells(spells: tuple[Spell, ...]) -> None:
    if not spells:
        raise ComputeError("spells", spells, "at least one opening spell")
    last = 0.0
    for opens, closes in spells:
        if not (math.isfinite(opens) and math.isfinite(closes) and last <= opens < closes):
            raise ComputeError(
                "spells", (opens, closes), f"opening at or after {last:g}, and closing after that"
            )
        last = closes
