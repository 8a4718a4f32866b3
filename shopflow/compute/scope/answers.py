"""What comes back: the best set for a budget, the next step of money, the curve of benefit against money."""

from __future__ import annotations

from dataclasses import dataclass
from decimal import Decimal


@dataclass(frozen=True, slots=True)
class NextStep:
    """The smallest extra money that buys a better set: how much more, what comes in, what goes out."""

    extra: Decimal
    cost: Decimal
    benefit: float
    comes_in: tuple[str, ...]
    goes_out: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class Fit:
    """The best set under a budget; ids in the order given, money exact, `room` the budget left over."""

    chosen: tuple[str, ...]
    left: tuple[str, ...]
    cost: Decimal
    benefit: float
    room: Decimal
    is_proven: bool
    next_step: NextStep | None


@dataclass(frozen=True, slots=True)
class Point:
    """One step of the staircase: no cheaper set is worth as much, no set for this money is worth more."""

    cost: Decimal
    benefit: float
    chosen: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class Curve:
    """Benefit against money, by rising cost; `is_whole` tells that no step is missing between the points."""

    points: tuple[Point, ...]
    is_whole: bool
