"""What is read and reckoned at a bench: sheets of tasks, scales of strings, weights of keys."""

from .belly import BearingReading
from .scale import ScaleNote, StringScale
from .sheet import BenchSheet, CautionSeen, Computed, CureSet, Phase, Reading, RoomAir
from .touch import KeyWeight, RegulatingSample, RegulatingValue

__all__ = [
    "BearingReading",
    "BenchSheet",
    "CautionSeen",
    "Computed",
    "CureSet",
    "KeyWeight",
    "Phase",
    "Reading",
    "RegulatingSample",
    "RegulatingValue",
    "RoomAir",
    "ScaleNote",
    "StringScale",
]
