"""Where the regulating values of an instrument begin: usual figures, marked as such, to be made its own.

Makers differ, and dip, blow and aftertouch trade against each other: these are starting points.
"""

from __future__ import annotations

from typing import NamedTuple

from shopflow.catalogue.models import Kind

FROM_MEMORY = "usual figure, from memory; tolerance common practice, no source"
FROM_LISTS = "usual figure, technicians’ lists 1998 and 2010; tolerance common practice, no source"
FROM_PAGE = "usual figure, a tuner’s page; tolerance common practice, no source"


class Usual(NamedTuple):
    code: str
    name: str
    bass_mm: float
    treble_mm: float
    tolerance_mm: float
    basis: str


_BOTH = (Usual("side-play", "Key side play at the front", 0.2, 0.2, 0.1, FROM_MEMORY),)
USUAL: dict[str, tuple[Usual, ...]] = {
    Kind.UPRIGHT: (
        Usual("dip", "Key dip", 10.25, 10.25, 0.25, FROM_LISTS),
        Usual("blow", "Hammer blow", 46.5, 46.5, 1.5, FROM_LISTS),
        Usual("let-off", "Let-off from the string", 3.0, 2.0, 0.5, FROM_LISTS),
        Usual("checking", "Checking from the string", 15.0, 15.0, 2.0, FROM_LISTS),
        *_BOTH,
    ),
    Kind.GRAND: (
        Usual("dip", "Key dip", 10.0, 10.0, 0.5, FROM_PAGE),
        Usual("blow", "Hammer blow", 47.0, 47.0, 1.5, FROM_PAGE),
        Usual("let-off", "Let-off from the string", 2.5, 1.5, 0.5, FROM_LISTS),
        Usual("checking", "Checking from the string", 15.0, 15.0, 2.0, FROM_MEMORY),
        *_BOTH,
    ),
}
SAMPLE_NOTES = (1, 22, 40, 58, 76, 88)
