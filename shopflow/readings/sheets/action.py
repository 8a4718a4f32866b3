"""The action sheet."""

from __future__ import annotations

from shopflow.catalogue.models import SheetKind
from shopflow.readings.parts import Sheet

SHEET = Sheet(
    kind=SheetKind.ACTION,
    read_groups=("action", "keys", "dampers"),
    cautions=("lead",),
)
