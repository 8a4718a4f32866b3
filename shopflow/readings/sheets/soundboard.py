"""The soundboard sheet."""

from __future__ import annotations

from shopflow.catalogue.models import SheetKind
from shopflow.readings.parts import Sheet

SHEET = Sheet(
    kind=SheetKind.SOUNDBOARD,
    read_groups=("board", "ribs", "bridges"),
    cautions=("wood-dust", "plate"),
)
