"""A piano in the shop's care, what surveys found of it, and the crates its parts lie in."""

from .crates import Crate, CrateCount, CrateLine, CrateMove
from .instrument import Instrument
from .safety import LeftUnsafe
from .survey import Finding, GroupLook, Survey, SurveyDraft, SurveyReading

__all__ = [
    "Crate",
    "CrateCount",
    "CrateLine",
    "CrateMove",
    "Finding",
    "GroupLook",
    "Instrument",
    "LeftUnsafe",
    "Survey",
    "SurveyDraft",
    "SurveyReading",
]
