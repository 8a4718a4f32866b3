"""Passwords handed out by the office: easy to say over a bench, hard to guess, good until one is chosen."""

from __future__ import annotations

import secrets

_CONSONANTS = "bdfgklmnprstvz"
_VOWELS = "aeiou"
_WORDS = 4


def speakable() -> str:
    """Four words that mean nothing, such as "tabor-lemik-sudan-vorek": 14³·5² each, over 64 bits in all."""
    return "-".join(_word() for _ in range(_WORDS))


def _word() -> str:
    c, v = (lambda: secrets.choice(_CONSONANTS)), (lambda: secrets.choice(_VOWELS))
    return c() + v() + c() + v() + c()
