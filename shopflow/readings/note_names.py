"""The names of the 88 notes."""

from __future__ import annotations

_NAMES = ("A", "A♯", "B", "C", "C♯", "D", "D♯", "E", "F", "F♯", "G", "G♯")


def note_name(note: int) -> str:
    """
    >>> note_name(1), note_name(4), note_name(49), note_name(88)
    ('A0', 'C1', 'A4', 'C8')
    """
    return f"{_NAMES[(note - 1) % 12]}{(note + 8) // 12}"


def is_sharp(note: int) -> bool:
    """
    >>> [note for note in range(1, 9) if is_sharp(note)]
    [2, 5, 7]
    """
    return "♯" in note_name(note)


def stretch(first: int, last: int) -> str:
    """
    >>> stretch(5, 5), stretch(5, 9)
    ('note 5', 'notes 5 to 9')
    """
    return f"note {first}" if first == last else f"notes {first} to {last}"
