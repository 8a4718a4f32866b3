"""An invented scale: sensible as physics, of no real piano."""

from __future__ import annotations

import random

from shopflow.compute.strings import MUSIC_WIRE_MM
from shopflow.readings.note_cells import NoteDraft

BREAK = 27
TREBLE_SECTIONS = ((27, "tenor"), (49, "treble"), (69, "high treble"))


def scale_as_found(rng: random.Random, *, is_grand: bool) -> list[NoteDraft]:
    """A scale as an old piano has it: even lengths, wires that somebody once changed by guess."""
    return [*_bass(rng, is_grand=is_grand), *_plain(rng, is_grand=is_grand)]


def _bass(rng: random.Random, *, is_grand: bool) -> list[NoteDraft]:
    """Single strings below, pairs above; cores of three sizes, windings thinner upward."""
    longest = 1460.0 if is_grand else 1180.0
    drafts = []
    for note in range(1, BREAK):
        length = round(longest - 17.5 * (note - 1) + rng.uniform(-2, 2), 1)
        pull = (1010 if note <= 10 else 880) - 6 * (note - 1) + rng.uniform(-25, 25)
        size = 22.0 if note <= 4 else 20.0 if note <= 10 else 18.0 if note <= 18 else 17.0
        core = MUSIC_WIRE_MM[size]
        drafts.append(
            NoteDraft(
                note=note,
                section="bass",
                strings=1 if note <= 10 else 2,
                length_mm=length,
                wire_mm=core,
                wire_size=size,
                cover_mm=round(_cover(note, length, pull, core), 2),
                ends="loop",
                overall_mm=round(length + 190 + note, 0),
            )
        )
    return drafts


def _cover(note: int, length_mm: float, pull_n: float, core_mm: float) -> float:
    """The thickness over the winding that gives this pull; the inverse of the mass of a wound string."""
    hz = 440 * 2 ** ((note - 49) / 12)
    mass = pull_n / (4 * (length_mm / 1000 * hz) ** 2) * 1000
    core = 7850 * 3.14159265 * core_mm**2 / 4000
    ring = max(0.0, mass - core) * 1000 / (8960 * (3.14159265 / 4) ** 2)
    return float(max(core_mm + 0.3, (core_mm**2 + ring) ** 0.5))


def _plain(rng: random.Random, *, is_grand: bool) -> list[NoteDraft]:
    """Thirteen at the top and eighteen by the break, in runs, with two runs a size too thick."""
    drafts = []
    for note in range(BREAK, 89):
        section = next(name for first, name in reversed(TREBLE_SECTIONS) if note >= first)
        # A plate cannot give the lowest plain strings their full length.
        stretch = 1 - max(0, 40 - note) * (0.012 if is_grand else 0.021)
        length = round(52 * 1.885 ** ((88 - note) / 12) * stretch + rng.uniform(-0.4, 0.4), 1)
        size = 13 + (88 - note) // 6 * 0.5
        size += 1.0 if 55 <= note <= 58 or 74 <= note <= 76 else 0.0
        drafts.append(
            NoteDraft(
                note=note,
                section=section,
                strings=3,
                length_mm=length,
                wire_mm=MUSIC_WIRE_MM[size],
                wire_size=size,
                cover_mm=None,
                ends="round",
                overall_mm=None,
            )
        )
    return drafts
