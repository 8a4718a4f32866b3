"""The bench sheets there are, each in a module of its own."""

from __future__ import annotations

from shopflow.readings.parts import Sheet, Sum

from . import action, finishing, lifting, plating, soundboard, strings

SHEETS: dict[str, Sheet] = {
    str(sheet.kind): sheet
    for sheet in (
        strings.SHEET,
        soundboard.SHEET,
        action.SHEET,
        finishing.SHEET,
        plating.SHEET,
        lifting.SHEET,
    )
}
SUMS: dict[str, Sum] = {code: each for sheet in SHEETS.values() for code, each in sheet.sums.items()}
