"""Bytes to letters, whichever way the program that wrote the file spells them."""

from __future__ import annotations

import codecs

from .problems import Unreadable

# Longer marks first: the mark of UTF-32 begins with that of UTF-16.
_MARKS = [
    (codecs.BOM_UTF32_LE, "utf-32-le", "UTF-32"),
    (codecs.BOM_UTF32_BE, "utf-32-be", "UTF-32"),
    (codecs.BOM_UTF8, "utf-8", "UTF-8"),
    (codecs.BOM_UTF16_LE, "utf-16-le", "UTF-16"),
    (codecs.BOM_UTF16_BE, "utf-16-be", "UTF-16"),
]
# In UTF-16 every second byte of plain English is zero.
_ZEROS_OF_UTF16 = 0.2
_NO_TABLE = {
    b"%PDF": "a PDF",
    b"\xd0\xcf\x11\xe0": "an old workbook (.xls); save it as .xlsx or as CSV",
    b"\x89PNG": "a picture",
    b"\xff\xd8\xff": "a picture",
    b"{\\rtf": "a letter",
}


def decoded(data: bytes) -> tuple[str, str]:
    """The letters of a file, and a note where something had to be assumed.

    >>> decoded("Flügel".encode("cp1252"))[0]
    'Flügel'
    """
    for start, what in _NO_TABLE.items():
        if data.startswith(start):
            raise Unreadable(f"This is {what}, not a table of instruments.")
    for mark, codec, name in _MARKS:
        if data.startswith(mark):
            return _by_the_mark(data[len(mark) :], codec, name), ""
    if data.count(0) > len(data) * _ZEROS_OF_UTF16:
        codec = "utf-16-be" if data[::2].count(0) > data[1::2].count(0) else "utf-16-le"
        return _by_the_mark(
            data, codec, "UTF-16"
        ), "The file says nothing of its letters; UTF-16 was assumed."
    return _without_mark(data)


def _by_the_mark(data: bytes, codec: str, name: str) -> str:
    try:
        return data.decode(codec)
    except UnicodeDecodeError as broken:
        raise Unreadable(f"The file says it is {name}, but is cut off or damaged.") from broken


def _without_mark(data: bytes) -> tuple[str, str]:
    try:
        return data.decode("utf-8"), ""
    except UnicodeDecodeError:
        pass
    try:
        text, name = data.decode("cp1252"), "Windows-1252"
    except UnicodeDecodeError:
        text, name = data.decode("latin-1"), "Latin-1"
    return text, f"The letters are not UTF-8; {name} was assumed. Look at letters such as é, ö or ß below."
