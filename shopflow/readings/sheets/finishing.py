"""The finishing sheet: the air, the film, what to mix, and how long to let it rest."""

from __future__ import annotations

from shopflow.catalogue.models import SheetKind
from shopflow.readings.cure import PART as CURE
from shopflow.readings.parts import Sheet
from shopflow.readings.sums import colour_recipe, film_build, may_coat, mixing, quantity

SHEET = Sheet(
    kind=SheetKind.FINISHING,
    lede="The product’s sheet and safety data sheet rule above everything that is worked out here.",
    parts=(
        may_coat.SUM,
        film_build.SUM,
        quantity.SUM_UPRIGHT,
        quantity.SUM_GRAND,
        mixing.SUM,
        CURE,
        colour_recipe.SUM,
    ),
    reads=("wet-film", "lacquer-film", "polyester-film", "surface-temperature", "gloss"),
    cautions=("solvents-spray", "isocyanates"),
)
