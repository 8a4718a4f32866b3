"""Lines of state, and operations as what they ask of those lines and do to them; levels are whole numbers."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field

Levels = Mapping[str, int]


@dataclass(frozen=True, slots=True)
class Line:
    """Something about a piano that goes down and up again once in a stay, with its levels from least to most.

    `place`: a tie to what raises it counts only where something lowers it; `stays_at_top`: nothing has to
    raise it again once it was at its highest; `clears_itself`: it only orders, nobody raises it; `by_part`:
    it concerns only operations that hold a part in common. `say`: a phrase for each level.
    """

    code: str
    name: str
    levels: tuple[str, ...]
    found: int
    goal: int
    say: tuple[str, ...]
    place: bool = False
    stays_at_top: bool = False
    clears_itself: bool = False
    by_part: bool = False

    @property
    def top(self) -> int:
        return len(self.levels) - 1

    def is_settled(self, state: Levels) -> bool:
        """Whether it was at its highest and stays there, whatever is done."""
        return self.stays_at_top and state[self.code] == self.top


@dataclass(frozen=True, slots=True)
class Work:
    """One operation on one kind of piano: what it asks, what it does, what it holds, what it costs.

    What is `retired` is known, since work under way or done may bear it, but it is never added to a job.
    """

    code: str
    name: str
    cost: float
    holds: frozenset[str]
    at_most: Levels
    at_least: Levels
    still: Levels
    opens: Levels
    spoils: Levels
    leaves: Levels
    lifts_from: Levels
    keeps: frozenset[str]
    renews: frozenset[str]
    covers: frozenset[str]
    serves_for: frozenset[str]
    each: bool = False
    instead: str = ""
    step: Mapping[str, str] = field(default_factory=dict)
    rest: str = ""
    rest_hours: float = 0.0
    rest_as: Mapping[str, str] = field(default_factory=dict)
    rest_as_hours: Mapping[str, float] = field(default_factory=dict)
    rest_holds: bool = False
    halves: Mapping[str, float] = field(default_factory=dict)
    also: tuple[str, ...] = ()
    after: tuple[str, ...] = ()
    in_every_job: bool = False
    retired: bool = False

    def lowers(self, line: str) -> int | None:
        """The level to which it brings this line down, on purpose or by the way; None if it does not."""
        levels = [given[line] for given in (self.opens, self.spoils) if line in given]
        return min(levels, default=None)

    def base(self, line: str) -> int:
        """The level from which it can raise this line."""
        return self.lifts_from.get(line, self.at_least.get(line, 0))

    def lifts(self, line: str, level: int) -> bool:
        """Whether it takes this line on from that level."""
        return line in self.leaves and self.base(line) <= level < self.leaves[line]

    @property
    def lowered(self) -> set[str]:
        return {*self.opens, *self.spoils}

    def after_it(self, state: Levels) -> dict[str, int]:
        """The state of the piano once this work is signed."""
        now = dict(state)
        for line in self.lowered:
            now[line] = min(now[line], self.lowers(line) or 0)
        for line, level in self.leaves.items():
            if self.base(line) <= now[line] < level:
                now[line] = level
        return now
