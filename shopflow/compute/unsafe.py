"""What nobody may be handed without a word about it: when a finding is unsafe, and when it forbids tuning.

Common practice, no source: the judgement of two rebuilders. What a kind of finding stops is data of the shop.
"""

from __future__ import annotations

SAFE, PITCH = "safe", "pitch"
# It does not do its job, or damages other parts.
BROKEN = 3
# As grave as a survey can call it.
GRAVEST = 4


def is_unsafe(*, severity: int, stops: str = "", safety: float = 0, playing: float = 0) -> bool:
    """Whether standing beside it, moving it or touching it may hurt somebody.

    `stops` is what this kind of finding stops when it is there; `safety` and `playing` say how much it
    touches either, 0 to 3. The gravest grade of something that touches safety and not playing counts as
    well: a loose pane hurts whoever dusts it, while a plate that is cracked is a matter of pitch.

    >>> is_unsafe(severity=3, stops="safe"), is_unsafe(severity=2, stops="safe")
    (True, False)
    >>> is_unsafe(severity=4, safety=1), is_unsafe(severity=4, stops="pitch", safety=3, playing=3)
    (True, False)
    """
    if stops == SAFE:
        return severity >= BROKEN
    return severity >= GRAVEST and safety > 0 and playing == 0


def forbids_pitch(*, severity: int, stops: str = "") -> bool:
    """Whether the piano must not be brought to pitch while this is left: the plate, its bolts, the frame.

    >>> forbids_pitch(severity=1, stops="pitch"), forbids_pitch(severity=0, stops="pitch")
    (True, False)
    """
    return stops == PITCH and severity > 0
