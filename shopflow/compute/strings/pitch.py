"""Notes, cents, and what tension a change of pitch brings back or lets go."""

from __future__ import annotations

import math
from collections.abc import Iterable
from typing import NamedTuple

from shopflow.compute.guards import number, some
from shopflow.compute.strings.limits import measure, note_number


class Pass(NamedTuple):
    """One pass over the strings: the pitch aimed at, the tension then, what it returned (under 0: freed)."""

    aim_cents: float
    tension_n: float
    returned_n: float
    returned_share: float


def note_frequency_hz(note: int, a4_hz: float = 440.0) -> float:
    """Tell the pitch of a note in equal temperament, without stretch.

    Parameters: `note` 1 (A0) to 88 (C8); `a4_hz` pitch of note 49, 300 to 600 Hz. Result: Hz.
    Errors: ComputeError for a value outside its span. Source: f = A4 x 2^((note - 49)/12); ISO 16, A4 = 440
    Hz.

    >>> note_frequency_hz(49), round(note_frequency_hz(40), 3)
    (440.0, 261.626)
    """
    a4 = number("a4_hz", a4_hz, at_least=300, at_most=600, unit="Hz")
    return a4 * 2 ** ((note_number(note) - 49) / 12)


def cents_from(frequency_hz: float, reference_hz: float) -> float:
    """Tell how far a pitch lies from where it should be: more than 0 is sharp, less than 0 flat.

    Parameters: `frequency_hz` and `reference_hz`, each 1 to 20,000 Hz. Result: cents.
    Errors: ComputeError for a value outside its span. Source: definition, 1200 log2 of the ratio.

    >>> round(cents_from(441, 440), 2)
    3.93
    """
    heard = measure("frequency_hz", frequency_hz)
    return 1200 * math.log2(heard / measure("reference_hz", reference_hz, like="frequency_hz"))


def tension_passes(full_tension_n: float, from_cents: float, aims_cents: Iterable[float]) -> list[Pass]:
    """Tell what tension comes back at each pass of a pitch raise, or goes at each pass of letting down.

    Parameters: `full_tension_n` tension at pitch of one string or of the whole scale, 1 to 1,000,000 N;
    `from_cents` where the pitch stands now, and `aims_cents` where each pass leaves it, all -4,800 to 600
    cents from pitch.
    Result: a Pass for each aim, its share being of the full tension. Errors: ComputeError.
    Source: tension goes with the square of frequency, ratio 2^(cents/600). How many passes, and how far over
    pitch, is the technician's judgement. Old wire may break while it is raised: eyes protected, faces out of
    the string line, all sections alike; local codes and licensed practice rule.

    >>> [round(each.returned_share, 3) for each in tension_passes(160_000, -100, [-40, 0])]
    [0.064, 0.045]
    """
    full = number("full_tension_n", full_tension_n, at_least=1, at_most=1_000_000, unit="N")
    before = _share_of_tension("from_cents", from_cents)
    passes = []
    for aim in some("aims_cents", aims_cents, at_most=100):
        after = _share_of_tension("aims_cents", aim)
        passes.append(Pass(float(aim), full * after, full * (after - before), after - before))
        before = after
    return passes


def _share_of_tension(field: str, cents: float) -> float:
    return 2 ** (number(field, cents, at_least=-4800, at_most=600, unit="cents") / 600)
