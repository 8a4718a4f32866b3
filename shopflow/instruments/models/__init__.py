"""A piano in the shop's care, and what surveys found of it."""

from .instrument import Instrument
from .survey import Finding, GroupLook, Survey, SurveyReading

__all__ = ["Finding", "GroupLook", "Instrument", "Survey", "SurveyReading"]
