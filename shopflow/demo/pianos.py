"""Invented pianos and their invented owners. What is said of a piano fits its kind and its age."""

from __future__ import annotations

import random
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from typing import Any

from shopflow.catalogue.models import Kind

EARLIEST, LATEST = 1872, 1996


@dataclass(frozen=True, slots=True)
class Maker:
    """Numbers ran on from the first piano to the last, so that a number and a year tell the same."""

    name: str
    began: int
    ended: int
    a_year: int

    def serial(self, year: int, rng: random.Random) -> str:
        return str(1_000 + (year - self.began) * self.a_year + rng.randrange(self.a_year))


@dataclass(frozen=True, slots=True)
class Word:
    """Something one may write down of a piano: of which kind, built when, and what it speaks of."""

    text: str
    kind: str = ""
    first: int = EARLIEST
    last: int = LATEST
    of: str = ""

    def fits(self, kind: str, year: int) -> bool:
        return self.kind in {"", kind} and self.first <= year <= self.last


MAKERS = (
    Maker("Ostrander & Vale", 1871, 1934, 820),
    Maker("Bexcombe", 1884, 1968, 540),
    Maker("Corvane Brothers", 1868, 1931, 460),
    Maker("Thistledown", 1902, 1996, 900),
    Maker("Harrow-Lisle", 1892, 1962, 380),
    Maker("Pellew & Daughter", 1909, 1996, 610),
    Maker("Marchbank", 1870, 1941, 700),
    Maker("Oldacre", 1926, 1996, 1150),
)
PLAIN_WOOD = (
    Word("walnut veneer"),
    Word("rosewood veneer", last=1930),
    Word("mahogany veneer"),
    Word("oak", kind=Kind.UPRIGHT, first=1895, last=1975),
)
BLACK = (
    Word("ebonised", last=1945),
    Word("black lacquer", first=1925, last=1985),
    Word("black polyester", first=1968),
)
ALTERATIONS = (
    Word("candle arms removed, holes plugged with softwood", Kind.UPRIGHT, last=1912),
    Word("upper door cut for a mirror", Kind.UPRIGHT, last=1935),
    Word("key tops replaced in plastic, edges left sharp", last=1948, of="key tops"),
    Word("casters changed for small furniture wheels"),
    Word("music desk screwed to the fall", Kind.UPRIGHT),
    Word("music desk shortened, slides missing", Kind.GRAND),
    Word("once fitted with a player mechanism, keybed slotted", first=1904, last=1931),
    Word("pins driven in and doped", last=1955),
    Word("top sprayed over in plain varnish", last=1960),
    Word("electric heater rod screwed inside the case", first=1950),
)
FRAGILE = (
    Word("fretwork of the upper door: hold at the rails only", Kind.UPRIGHT, last=1910),
    Word("ivory tops loose at notes 30 to 44", last=1938, of="key tops"),
    Word("celluloid key tops: no flame, no heat gun", first=1890, last=1958, of="key tops"),
    Word("old mirror in the upper door, do not scrape", Kind.UPRIGHT, last=1930),
    Word("glass panel behind the fret, held by four tacks", Kind.UPRIGHT, last=1915),
    Word("marquetry lifting on the left leg", Kind.GRAND, last=1925),
    Word("lid hinge pin worn, never lift alone", Kind.GRAND),
    Word("plywood of the lower door parting at one corner", Kind.UPRIGHT, first=1932),
    Word("polyester chips at the edges: pad every strap", first=1968),
    Word("straight strung, plate in the upper half only: pull up slowly", Kind.UPRIGHT, last=1886),
)
FIRST = (
    "Agnes Bertram Clemency Dorian Esme Fergus Hester Ivo Jocasta Leopold Mirabel Osric Petra Rufus".split()
)
LAST = "Applegarth Brindle Cawdrey Dunnock Elmore Fairholme Gaunt Inchbold Loveday Mossop Pickering".split()
PLACES = ("rack hall", "bay 1", "bay 2", "bay 3", "loft", "quiet room", "dry store", "front room")


@dataclass(frozen=True, slots=True)
class Share:
    """How often a route is taken, and how old the pianos are that take it; no share has a source."""

    route: str
    weight: float
    kind: str
    first: int = 1885
    last: int = LATEST
    stained: bool = False


SHARES = (
    Share("A", 2, Kind.GRAND, 1885, 1938, stained=True),
    Share("B", 4, Kind.UPRIGHT, 1888, 1930, stained=True),
    Share("C", 9, Kind.UPRIGHT, EARLIEST, 1955),
    Share("D", 14, Kind.GRAND, 1885, 1960, stained=True),
    Share("Du", 11, Kind.UPRIGHT, 1888, 1960, stained=True),
    Share("E", 18, Kind.GRAND, 1895),
    Share("Eu", 18, Kind.UPRIGHT, 1895),
    Share("F", 9, Kind.GRAND, 1898, 1970),
    Share("Fu", 6, Kind.UPRIGHT, 1898, 1970),
    Share("G", 14, Kind.GRAND, 1890),
)


def share(rng: random.Random) -> Share:
    return rng.choices(SHARES, weights=[taken.weight for taken in SHARES])[0]


def facts(rng: random.Random, share: Share) -> dict[str, Any]:
    """What one could write down of one piano when it is carried in."""
    # More of them were built before the second war than after it.
    mode = min(share.last, 1926)
    year = round(rng.triangular(share.first, share.last, max(share.first, mode)))
    maker = rng.choice([each for each in MAKERS if each.began <= year <= each.ended])
    altered = _word(rng, ALTERATIONS, share.kind, year, rarely=0.45)
    spoken_of = [word.of for word in ALTERATIONS if word.of and word.text == altered]
    fragile = _word(rng, FRAGILE, share.kind, year, rarely=0.45, besides=spoken_of)
    return {
        "kind": share.kind,
        "maker": maker.name,
        "serial": maker.serial(year, rng),
        "year_built": year,
        "size_cm": _size(rng, share.kind, year),
        # Black would be made black again; these routes stain and fill.
        "finish": _word(rng, PLAIN_WOOD if share.stained else (*PLAIN_WOOD, *BLACK), share.kind, year),
        "alterations": altered,
        "fragile": fragile,
        "place": rng.choice(PLACES),
    }


def _word(
    rng: random.Random,
    words: Iterable[Word],
    kind: str,
    year: int,
    *,
    rarely: float = 1.0,
    besides: Sequence[str] = (),
) -> str:
    """One of these words that fits; with `rarely` below 1 there is often nothing to say."""
    fitting = [word.text for word in words if word.fits(kind, year) and word.of not in besides]
    return rng.choice(fitting) if fitting and rng.random() < rarely else ""


def _size(rng: random.Random, kind: str, year: int) -> int:
    """Length of a grand, height of an upright; uprights grew smaller after the war."""
    if kind == Kind.GRAND:
        return round(rng.triangular(148, 228, 172))
    return rng.randint(120, 138) if year < 1935 else rng.randint(106, 128)


def owner(rng: random.Random) -> dict[str, str]:
    first, last = rng.choice(FIRST), rng.choice(LAST)
    street = rng.choice(("Quay", "Chapel", "Ropewalk", "Mill"))
    return {
        "name": f"{first} {last}",
        "email": f"{first}.{last}@quillmere.example".lower(),
        "phone": f"00 000 {rng.randint(1000, 9999)}",
        "address": f"{rng.randint(1, 80)} {street} Street, Quillmere",
    }
