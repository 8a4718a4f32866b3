"""Looks at a file as it comes in, by content and never by name; nothing is decoded yet (see decode.py)."""

from __future__ import annotations

import struct
import warnings
from collections.abc import Callable
from typing import IO

from django.conf import settings
from django.core.files import File
from PIL import Image, PngImagePlugin

from .decode import INCOMPLETE, UNREADABLE
from .refusal import PhotoRefused

LONGEST_SIDE = 20_000
# What is written into a picture is thrown away anyway; it must not cost memory on the way.
PngImagePlugin.MAX_TEXT_CHUNK = PngImagePlugin.MAX_TEXT_MEMORY = 1_000_000

_JPEG, _PNG = b"\xff\xd8\xff", b"\x89PNG\r\n\x1a\n"
_SAVE_JPEG = "Set the camera to save JPEG (cameras often call it “most compatible”), and take it again."
_OTHERS = {
    b"II*\0": "TIFF",
    b"MM\0*": "TIFF",
    b"%!PS": "PostScript",
    b"\xc5\xd0\xd3\xc6": "PostScript",
    b"%PDF": "PDF",
    b"GIF8": "GIF",
    b"BM": "BMP",
    b"PK\x03\x04": "zip",
    b"<": "HTML or SVG",
    b"\xef\xbb\xbf<": "HTML or SVG",
}
_HEIC_BRANDS = {b"heic", b"heix", b"hevc", b"heim", b"heis", b"mif1", b"msf1", b"avif", b"avis"}


def check(file: File[bytes]) -> None:
    """Refuse what is no photo, or a broken or oversized one, at the price of reading the file once."""
    _check_size(file)
    content = file.read()
    file.seek(0)
    look, is_whole = _kind_of(content)
    if not is_whole(content):
        raise PhotoRefused(INCOMPLETE)
    _check_sides(*look(file, content))
    file.seek(0)


def _check_size(file: File[bytes]) -> None:
    most = settings.PHOTO_MAX_BYTES
    if not file.size:
        raise PhotoRefused("This file is empty. Try again.")
    if file.size > most:
        raise PhotoRefused(
            f"This file is larger than {most / 1e6:g} MB, the most that is taken."
            " Set the camera to save smaller JPEG photos."
        )


Look = Callable[["File[bytes]", bytes], tuple[int, int]]


def _kind_of(content: bytes) -> tuple[Look, Callable[[bytes], bool]]:
    if content.startswith(_JPEG):
        return _sides_as_opened, jpeg_is_whole
    if content.startswith(_PNG):
        return _sides_of_png, lambda content: b"IEND" in content
    if content[:4] == b"RIFF" and content[8:12] == b"WEBP":
        return _sides_of_webp, _webp_is_whole
    raise PhotoRefused(_words_for_other(content))


def _words_for_other(content: bytes) -> str:
    if content[4:8] == b"ftyp" and content[8:12] in _HEIC_BRANDS:
        return f"This is a HEIC photo, which cannot be opened here. {_SAVE_JPEG}"
    start = content[:64].lstrip()
    name = next((name for magic, name in _OTHERS.items() if start.startswith(magic)), "")
    what = f"This is a {name} file" if name else "This is no photo"
    return f"{what}; photos are JPEG, PNG or WebP. {_SAVE_JPEG}"


def _check_sides(width: int, height: int) -> None:
    most = settings.PHOTO_MAX_PIXELS
    if width * height > most:
        raise PhotoRefused(
            f"This photo has too many pixels, {width} × {height} (limit {most // 1_000_000} million)."
            " Set the camera to save smaller photos."
        )
    if max(width, height) > LONGEST_SIDE:
        raise PhotoRefused(
            f"This photo is {width} × {height} pixels; the limit for a side is {LONGEST_SIDE}."
        )


def _sides_as_opened(file: File[bytes], content: bytes) -> tuple[int, int]:
    return _opened(file, "JPEG").size


def _sides_of_png(file: File[bytes], content: bytes) -> tuple[int, int]:
    """Read from its head, which comes first; then every chunk's checksum."""
    _check_sides(*struct.unpack(">II", content[16:24]) if len(content) > 24 else (0, 0))
    picture = _opened(file, "PNG")
    size = picture.size
    try:
        picture.verify()
    except Exception as trouble:
        raise PhotoRefused(UNREADABLE) from trouble
    return size


def _opened(file: IO[bytes], kind: str) -> Image.Image:
    """The head of the file as Pillow reads it; whatever a hostile one makes it raise is a refusal."""
    try:
        with warnings.catch_warnings():
            # Too many pixels are refused in our own words, a line later.
            warnings.simplefilter("ignore", Image.DecompressionBombWarning)
            return Image.open(file, formats=[kind])
    except Image.DecompressionBombError:
        most = settings.PHOTO_MAX_PIXELS // 1_000_000
        raise PhotoRefused(f"This photo has too many pixels (limit {most} million).") from None
    except Exception as trouble:
        raise PhotoRefused(UNREADABLE) from trouble


def jpeg_is_whole(content: bytes) -> bool:
    """Whether the end of the picture is there: segment by segment to its start, then its end mark.

    Searching the whole file would find the end of the small preview that cameras put in front.
    """
    at = 2
    while at + 4 <= len(content) and content[at] == 0xFF:
        mark, length = content[at + 1], int.from_bytes(content[at + 2 : at + 4], "big")
        if mark == 0xDA:
            return content.find(b"\xff\xd9", at) >= 0
        at += 1 if mark == 0xFF else 2 + length
    return False


def _webp_is_whole(content: bytes) -> bool:
    return len(content) >= 8 + int.from_bytes(content[4:8], "little")


def _sides_of_webp(file: File[bytes], content: bytes) -> tuple[int, int]:
    """Read here from its first chunk: Pillow would make room for the whole picture in order to tell its size.

    WebP Lossless and Lossy bitstreams and the extended header as in RFC 9649, sections 2.5 to 2.7.
    """
    head, body = content[12:16], content[20:30]
    if len(body) < 10:
        raise PhotoRefused(INCOMPLETE)
    if head == b"VP8X":
        return 1 + int.from_bytes(body[4:7], "little"), 1 + int.from_bytes(body[7:10], "little")
    if head == b"VP8L":
        bits = int.from_bytes(body[1:5], "little")
        return 1 + (bits & 0x3FFF), 1 + (bits >> 14 & 0x3FFF)
    if head == b"VP8 ":
        width, height = struct.unpack("<HH", body[6:10])
        return width & 0x3FFF, height & 0x3FFF
    raise PhotoRefused(UNREADABLE)
