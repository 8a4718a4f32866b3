"""What goes home with a piano in words: what holds of it, its old parts, and how to care for it.

Every sentence has its condition in the signed work: without new strings none speaks of new strings. How often
to tune and how long felt and film take to settle is common practice, no source; the shop adds its own words.
"""

from __future__ import annotations

import re
from collections.abc import Callable, Collection, Iterable
from dataclasses import dataclass
from datetime import date, timedelta

from shopflow.compute.proof import Claim, Proof

# What an owner is told of a line at a level; of lines and levels that are not here nothing is said.
CLAIMS: dict[tuple[str, str], str] = {
    ("tuning", "tuned"): "It is tuned",
    ("regulation", "regulated"): "The action is regulated",
    ("touch", "settled"): "The action was regulated a second time",
    ("voicing", "even"): "The tone is voiced even",
    ("wire", "on"): "The plain strings are on",
    ("bass", "on"): "The bass strings are on",
    ("seated", "seated"): "The strings are seated and levelled",
    ("bearing", "set"): "The bearing of the strings is set",
    ("caps", "pinned"): "The bridges are notched and pinned",
    ("varnish", "whole"): "The soundboard is varnished",
    ("plate", "in"): "The iron plate is back in its place",
    ("hammers", "on"): "The hammers are on their shanks",
    ("bedding", "bedded"): "The key frame is bedded",
    ("finish", "rubbed"): "The case is refinished and rubbed out",
    ("plating", "plated"): "The metal parts are plated",
    ("vermin", "clean"): "Nests, moth and mould are cleared out",
}
# Lighter work that brings a line to the same level is told as what it is.
CLAIMS_BY_WORK = {
    "regulate-check": "The regulation was looked over",
}
# Parts as their owner calls them.
PARTS = {
    "hammers": "hammers",
    "shanks": "hammer shanks",
    "wippens": "wippens",
    "wire": "plain strings",
    "bass": "bass strings",
    "pins": "tuning pins",
    "block": "pinblock",
    "board": "soundboard",
    "bridge": "bridge",
    "caps": "bridge cap",
    "bridge pins": "bridge pins",
    "key tops": "key tops",
}
# A new bridge comes with its cap and pins: one word says it.
WITHIN = {"bridge pins": {"caps", "bridge", "board"}, "caps": {"bridge", "board"}, "bridge": {"board"}}
# Words of a note of old parts, and the parts of which at least one must be new to make them true.
SPOKEN: dict[str, frozenset[str]] = {
    r"hammers": frozenset({"hammers"}),
    r"(hammer )?shanks": frozenset({"shanks"}),
    r"wippens|repetitions": frozenset({"wippens"}),
    r"bass strings?|bass set": frozenset({"bass"}),
    r"strings?|wires?": frozenset({"wire", "bass"}),
    r"(tuning|wrest) pins?": frozenset({"pins"}),
    r"pinblock|pin block|wrest plank": frozenset({"block"}),
    r"soundboard": frozenset({"board"}),
    r"bridges?|bridge caps?": frozenset({"bridge", "caps", "bridge pins"}),
    r"key ?tops?|ivory|ivories": frozenset({"key tops"}),
}
# Work that puts in some of these parts, and not all of them.
SOME_OF = {
    "string-mend": {"wire", "bass"},
    "string-section": {"wire", "bass"},
    "pins-single": {"pins"},
    "bass-bridge": {"bridge", "caps"},
    "note-repairs": {"hammers", "shanks"},
    "keytops-mend": {"key tops"},
}


@dataclass(frozen=True, slots=True)
class Care:
    """One part of the after-care: a heading and plain sentences."""

    title: str
    sentences: tuple[str, ...]

    @property
    def text(self) -> str:
        return " ".join(self.sentences)


CLIMATE = Care(
    "The air around it",
    (
        "Keep the room at 40 to 45 % relative humidity all the year round.",
        "Stand the piano away from radiators, open fires, direct sun and heated floors.",
        "A small humidity meter beside it tells you when the air is too dry or too damp.",
        "Leave moving it to people who move pianos.",
    ),
)
STRINGS = Care(
    "New strings",
    (
        "New strings stretch for about a year, so the pitch drops between the first tunings.",
        "That is not a fault.",
        "Have it tuned three or four times in the first year, then about twice a year.",
    ),
)
TUNING = Care(
    "Tuning",
    (
        "A piano moves with the air of its room.",
        "Have it tuned again after two to four weeks with you, then about twice a year.",
    ),
)
HAMMERS = Care(
    "New hammers",
    (
        "The felt of new hammers packs down as you play, and the tone grows brighter.",
        "Tell us when it is too bright for you: we can voice it again.",
    ),
)
ACTION = Care(
    "The action",
    (
        "New felt and leather in the action go on settling as you play.",
        "Let us look over the regulation after six to twelve months.",
    ),
)
FINISH = Care(
    "The new finish",
    (
        "The new finish feels hard now and goes on hardening for some weeks.",
        "For the first month put nothing on it, do not cover it and do not polish it.",
        "After that wipe it with a soft dry cloth, or a barely damp one.",
        "Use no sprays and no silicone.",
    ),
)
PLATING = Care(
    "Plated metal",
    ("Wipe the plated parts with a soft dry cloth.", "Metal polish wears the plating away."),
)
BRASS = Care(
    "Polished brass",
    (
        "The brass has a clear lacquer: wipe it with a soft dry cloth.",
        "Metal polish takes the lacquer off.",
    ),
)

# When a first-year visit is due, in weeks after the piano went home (common practice, no source).
VISIT_WEEKS = {"aftercare-tune": 8, "aftercare-tune-2": 22, "aftercare-tune-3": 44}


def visit_due(code: str, went_home: date | None) -> date | None:
    """About when this visit is due; None where it has no time of its own."""
    if went_home is None or code not in VISIT_WEEKS:
        return None
    return went_home + timedelta(weeks=VISIT_WEEKS[code])


def aftercare(proof: Proof) -> list[Care]:
    """What this piano needs at home, by what was really done to it; the air comes first, always."""
    return [CLIMATE, *(care for wanted, care in _RULES if wanted(proof))]


def is_restrung(proof: Proof) -> bool:
    return bool({"wire", "bass"} & proof.renewed)


def _is_tuned(proof: Proof) -> bool:
    return _level(proof, "tuning") == "tuned" and not is_restrung(proof)


def has_new_felt(proof: Proof) -> bool:
    """Work after which felt and leather have to settle."""
    return any("touch" in work.spoils for work in map(proof.work, proof.known) if work)


def _is_regulated(proof: Proof) -> bool:
    return _level(proof, "regulation") == "regulated" and has_new_felt(proof)


def _is_refinished(proof: Proof) -> bool:
    """Built up anew and not taken off again; an older job has its last coats within the build."""
    return _level(proof, "finish") in {"built", "clear", "rubbed"}


def _level(proof: Proof, line: str) -> str:
    return proof.claims[line].level if line in proof.claims else ""


_RULES: tuple[tuple[Callable[[Proof], bool], Care], ...] = (
    (is_restrung, STRINGS),
    (_is_tuned, TUNING),
    (lambda proof: "hammers" in proof.renewed, HAMMERS),
    (_is_regulated, ACTION),
    (_is_refinished, FINISH),
    (lambda proof: _level(proof, "plating") == "plated", PLATING),
    (lambda proof: proof.has_signed("hw-polish"), BRASS),
)


def claims_told(proof: Proof) -> list[tuple[str, Claim]]:
    """What holds of the piano as it goes home, in the order in which an owner asks for it."""
    return [
        (CLAIMS_BY_WORK.get(proof.claims[line].code, words), proof.claims[line])
        for (line, level), words in CLAIMS.items()
        if line in proof.claims and proof.claims[line].level == level
    ]


def old_parts_words(renewed: Collection[str]) -> str:
    """Which old parts were taken out; nothing where none were. Where they went is for the shop to add."""
    whole = set(renewed)
    names = [name for part, name in PARTS.items() if part in whole and not WITHIN.get(part, set()) & whole]
    return f"We took out the old {_and(names)}." if names else ""


def untrue_old_parts(words: str, proof: Proof) -> list[str]:
    """The old parts that a note speaks of although nothing signed put new ones in their place."""
    new = {*proof.renewed, *(part for code in proof.done for part in SOME_OF.get(code, ()))}
    said = [
        (match.group(), parts)
        for pattern, parts in SPOKEN.items()
        for match in [re.search(rf"\b({pattern})\b", words, re.IGNORECASE)]
        if match
    ]
    return list(dict.fromkeys(spoken.casefold() for spoken, parts in said if not parts & new))


def _and(names: Iterable[str]) -> str:
    *first, last = names
    return f"{', '.join(first)} and {last}" if first else last
