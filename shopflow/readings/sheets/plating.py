"""The plating sheet."""

from __future__ import annotations

from shopflow.catalogue.models import SheetKind
from shopflow.readings.parts import Sheet

SHEET = Sheet(
    kind=SheetKind.PLATING,
    reads=("bath-temperature", "bath-current", "deposit-film"),
    cautions=("plating-baths", "polishing"),
)
