"""What is offered for an instrument, what was agreed, what came as a surprise, and what was left as found."""

from .change import ChangeAnswer, ChangeChoice, ChangeOrder
from .left import Handover, LeftAsFound
from .offer import Approval, LaidOut, Objection, Offer, Option, OptionFinding, OptionWork, Treatment
from .scope import Scope

__all__ = [
    "Approval",
    "ChangeAnswer",
    "ChangeChoice",
    "ChangeOrder",
    "Handover",
    "LaidOut",
    "LeftAsFound",
    "Objection",
    "Offer",
    "Option",
    "OptionFinding",
    "OptionWork",
    "Scope",
    "Treatment",
]
