"""The strings sheet."""

from __future__ import annotations

from shopflow.catalogue.models import SheetKind
from shopflow.readings.parts import Sheet

SHEET = Sheet(
    kind=SheetKind.STRINGS,
    reads=("pitch-offset", "pin-torque", "coil-height", "wire-diameter", "rust-grade", "decay"),
    cautions=("string-tension",),
)
