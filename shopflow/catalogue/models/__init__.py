"""What a shop has and knows: its work, what can be found wrong with a piano, and its terms."""

from .condition import ComponentGroup, FindingKind, ReadingKind, Remedy
from .money import MaterialBand, Terms
from .state import KeptPart, StateLine, StepLine, WorkSort
from .work import (
    Caution,
    Department,
    Kind,
    Operation,
    Rest,
    Route,
    RouteStep,
    SheetKind,
    Shop,
    Stage,
    Units,
)

__all__ = [
    "Caution",
    "ComponentGroup",
    "Department",
    "FindingKind",
    "KeptPart",
    "Kind",
    "MaterialBand",
    "Operation",
    "ReadingKind",
    "Remedy",
    "Rest",
    "Route",
    "RouteStep",
    "SheetKind",
    "Shop",
    "Stage",
    "StateLine",
    "StepLine",
    "Terms",
    "Units",
    "WorkSort",
]
