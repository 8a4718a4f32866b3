"""Invented pianos and their invented owners."""

from __future__ import annotations

import random
from dataclasses import dataclass
from typing import Any

from shopflow.catalogue.models import Kind

MAKERS = (
    "Ostrander & Vale",
    "Bexcombe",
    "Corvane Brothers",
    "Thistledown",
    "Harrow-Lisle",
    "Pellew & Daughter",
    "Marchbank",
    "Oldacre",
)
FINISHES = ("walnut veneer", "rosewood veneer", "ebonised", "mahogany veneer", "oak", "black lacquer")
FIRST = (
    "Agnes Bertram Clemency Dorian Esme Fergus Hester Ivo Jocasta Leopold Mirabel Osric Petra Rufus".split()
)
LAST = "Applegarth Brindle Cawdrey Dunnock Elmore Fairholme Gaunt Inchbold Loveday Mossop Pickering".split()
PLACES = ("rack hall", "bay 1", "bay 2", "bay 3", "loft", "quiet room", "dry store", "front room")
ALTERATIONS = (
    "",
    "",
    "",
    "candle arms removed, holes plugged with softwood",
    "upper door cut for a mirror",
    "keytops replaced in plastic, edges left sharp",
    "casters changed for small furniture wheels",
    "music desk screwed to the fall",
    "once fitted with a player mechanism, keybed slotted",
    "pins driven in and doped",
)
FRAGILE = (
    "",
    "",
    "",
    "fretwork of the upper door: hold at the rails only",
    "ivory tops loose at notes 30 to 44",
    "old mirror in the upper door, do not scrape",
    "glass fall-front panel",
    "marquetry lifting on the left leg",
    "lid hinge pin worn, never lift alone",
)


@dataclass(frozen=True, slots=True)
class Share:
    """How often a route is taken; None of these shares has a source."""

    route: str
    weight: float
    kind: str


SHARES = (
    Share("A", 2, Kind.GRAND),
    Share("B", 4, Kind.UPRIGHT),
    Share("C", 9, Kind.UPRIGHT),
    Share("D", 14, Kind.GRAND),
    Share("Du", 11, Kind.UPRIGHT),
    Share("E", 18, Kind.GRAND),
    Share("Eu", 18, Kind.UPRIGHT),
    Share("F", 9, Kind.GRAND),
    Share("Fu", 6, Kind.UPRIGHT),
    Share("G", 14, Kind.GRAND),
)


def share(rng: random.Random) -> Share:
    return rng.choices(SHARES, weights=[one.weight for one in SHARES])[0]


def facts(rng: random.Random, *, kind: str) -> dict[str, Any]:
    """What one could write down of one piano when it is carried in."""
    is_grand = kind == Kind.GRAND
    return {
        "kind": kind,
        "maker": rng.choice(MAKERS),
        "serial": str(rng.randint(2_100, 98_000)),
        "year_built": rng.randint(1878, 1962),
        "size_cm": rng.randint(148, 228) if is_grand else rng.randint(108, 136),
        "finish": rng.choice(FINISHES),
        "alterations": rng.choice(ALTERATIONS),
        "fragile": rng.choice(FRAGILE),
        "place": rng.choice(PLACES),
    }


def owner(rng: random.Random) -> dict[str, str]:
    first, last = rng.choice(FIRST), rng.choice(LAST)
    street = rng.choice(("Quay", "Chapel", "Ropewalk", "Mill"))
    return {
        "name": f"{first} {last}",
        "email": f"{first}.{last}@quillmere.example".lower(),
        "phone": f"00 000 {rng.randint(1000, 9999)}",
        "address": f"{rng.randint(1, 80)} {street} Street, Quillmere",
    }
