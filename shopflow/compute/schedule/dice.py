"""Random numbers that are the same on every machine and in every thread: each search throws its own dice."""

from __future__ import annotations

import numpy as np

from shopflow.compute.schedule.compiled import compiled
from shopflow.compute.schedule.tables import Ints


def dice_for(seed: int) -> Ints:
    """Dice for any whole seed, well stirred (splitmix64, S. Vigna, public domain) and never all zero."""
    state = (seed * 0x9E3779B97F4A7C15 + 0x9E3779B97F4A7C15) % 2**64
    state = ((state ^ (state >> 30)) * 0xBF58476D1CE4E5B9) % 2**64
    state = ((state ^ (state >> 27)) * 0x94D049BB133111EB) % 2**64
    return np.array([(state ^ (state >> 31)) or 1], dtype=np.uint64)


@compiled
def roll(dice: Ints) -> float:
    """A number from 0 up to, not including, 1 (xorshift64*, G. Marsaglia and S. Vigna)."""
    state = dice[0]
    state ^= state >> np.uint64(12)
    state ^= state << np.uint64(25)
    state ^= state >> np.uint64(27)
    dice[0] = state
    return float((state * np.uint64(0x2545F4914F6CDD1D)) >> np.uint64(11)) / 9007199254740992.0


@compiled
def pick(dice: Ints, count: int) -> int:
    """One of 0 ... count - 1."""
    return int(roll(dice) * count)
