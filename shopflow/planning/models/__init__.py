"""What planning keeps: the year's aim, who is there when, what is scarce, and the plans made from it."""

from .crew import ExtraHours, Leave, Loan
from .plans import InstrumentOutlook, Plan, PlanLine
from .things import Hold, KindSize, PartOnOrder, ScarceThing
from .year import AnnualTarget, ClosedDay

__all__ = [
    "AnnualTarget",
    "ClosedDay",
    "ExtraHours",
    "Hold",
    "InstrumentOutlook",
    "KindSize",
    "Leave",
    "Loan",
    "PartOnOrder",
    "Plan",
    "PlanLine",
    "ScarceThing",
]
