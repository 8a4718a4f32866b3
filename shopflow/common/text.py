"""What people type, made fit to keep: no invisible letters, no letters that turn a line round."""

from __future__ import annotations

import re
import unicodedata
from typing import Any

from django import forms

_KEPT_CONTROLS = {"\n", "\t"}
# Control, format (zero width, right-to-left override), lone surrogate, private use, not assigned.
_INVISIBLE = {"Cc", "Cf", "Cs", "Co", "Cn"}
_MARKS_IN_A_ROW = 3


def clean(typed: str) -> str:
    """The same words in one spelling of each letter, without what cannot be seen; ends are trimmed.

    >>> clean("  sanded\\u200b through\\u202e ")
    'sanded through'
    >>> clean("\\u200b\\u200d"), clean("\\u0301\\u0301")
    ('', '')
    """
    plain = unicodedata.normalize("NFC", typed.replace("\r\n", "\n"))
    seen = "".join(c for c in plain if c in _KEPT_CONTROLS or unicodedata.category(c) not in _INVISIBLE)
    return _without_towers(seen).strip()


def _without_towers(text: str) -> str:
    """At most three combining marks on one letter, none on nothing: others run over the lines around them."""
    kept: list[str] = []
    marks = _MARKS_IN_A_ROW
    for letter in text:
        if unicodedata.combining(letter):
            marks += 1
        else:
            marks = _MARKS_IN_A_ROW if letter.isspace() else 0
        if marks <= _MARKS_IN_A_ROW:
            kept.append(letter)
    return "".join(kept)


def on_one_line(text: str) -> str:
    """
    >>> on_one_line("one\\n  two")
    'one two'
    """
    return re.sub(r"\s+", " ", text)


class TextField(forms.CharField):
    """Words of a person; what remains after cleaning has to satisfy the field."""

    def to_python(self, value: Any) -> str:
        return clean(super().to_python(value) or "")
