"""The lifting sheet."""

from __future__ import annotations

from shopflow.catalogue.models import SheetKind
from shopflow.readings.parts import Sheet

SHEET = Sheet(
    kind=SheetKind.LIFTING,
    reads=("load-weight",),
    cautions=("lifting", "plate", "tipping"),
)
