"""The finishing sheet: the air, the film, what to mix, and how long to let it rest."""

from __future__ import annotations

from shopflow.catalogue.models import SheetKind
from shopflow.readings.parts import Sheet
from shopflow.readings.sums import may_coat

SHEET = Sheet(
    kind=SheetKind.FINISHING,
    parts=(may_coat.SUM,),
    reads=("wet-film", "lacquer-film", "polyester-film", "surface-temperature", "gloss"),
    cautions=("solvents-spray", "isocyanates"),
)
