"""What is printed on a tag: a number that can be read across the room, and a QR code that opens its page."""

from __future__ import annotations

import segno
from django.http import HttpRequest

QUIET = 2
# A tag printed at the shop's own computer must not send a tablet to the tablet itself.
_OWN = {"localhost", "127.0.0.1", "[::1]", "0.0.0.0"}


def address_on_tag(request: HttpRequest, path: str) -> str:
    """The full address, which any camera opens; only the path where the shop is called by its own machine."""
    host = request.get_host().rsplit(":", 1)[0] if "]" not in request.get_host() else "[::1]"
    return path if host in _OWN else request.build_absolute_uri(path)


def qr_path(words: str) -> tuple[str, int]:
    """A QR code as one path of squares of side 1, and the side of the whole with its quiet zone.

    >>> path, side = qr_path("/crates/31/")
    >>> path[:9], side
    ('M2 2h7v1h', 25)
    """
    rows = [list(row) for row in segno.make(words, error="m", micro=False).matrix]
    runs = [
        f"M{start + QUIET} {y + QUIET}h{length}v1h-{length}z"
        for y, row in enumerate(rows)
        for start, length in _runs(row)
    ]
    return "".join(runs), len(rows) + 2 * QUIET


def _runs(row: list[int]) -> list[tuple[int, int]]:
    """Where dark stretches begin and how long they are.

    >>> _runs([1, 1, 0, 1])
    [(0, 2), (3, 1)]
    """
    found, at = [], 0
    while at < len(row):
        length = 0
        while at + length < len(row) and row[at + length]:
            length += 1
        if length:
            found.append((at, length))
        at += max(1, length)
    return found
