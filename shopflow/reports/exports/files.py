"""Tables as files: CSV by RFC 4180, and one ZIP with all of them; made piece by piece while they are sent.

The files are UTF-8 and say so in their first three bytes: without that mark, common spreadsheet programs take
the letters of a name such as Åse for something else.
"""

from __future__ import annotations

import csv
import io
import zipfile
from collections.abc import Iterable, Iterator
from datetime import datetime, tzinfo

from shopflow.common import cells

from .tables import Table

UTF8_MARK = b"\xef\xbb\xbf"


def as_csv(table: Table, *, zone: tzinfo) -> Iterator[bytes]:
    """The table, piece by piece."""
    yield UTF8_MARK + _lines([table.columns], zone=zone)
    for batch in table.rows():
        yield _lines(batch, zone=zone)


def _lines(rows: Iterable[Iterable[object]], *, zone: tzinfo) -> bytes:
    paper = io.StringIO(newline="")
    writer = csv.writer(paper, lineterminator="\r\n")
    writer.writerows([cells.written(value, zone=zone) for value in row] for row in rows)
    # Half a letter (a lone surrogate) cannot be written; it must not stop the rest.
    return paper.getvalue().encode("utf-8", "replace")


def as_zip(tables: Iterable[Table], *, zone: tzinfo, at: datetime) -> Iterator[bytes]:
    """All these tables in one file, piece by piece."""
    pipe = _Pipe()
    stamp = at.astimezone(zone).timetuple()[:6]
    with zipfile.ZipFile(pipe, "w", zipfile.ZIP_DEFLATED) as bundle:
        for table in tables:
            entry = zipfile.ZipInfo(f"{table.code}.csv", date_time=stamp)
            entry.compress_type = zipfile.ZIP_DEFLATED
            with bundle.open(entry, "w", force_zip64=True) as file:
                for piece in as_csv(table, zone=zone):
                    file.write(piece)
                    yield pipe.taken()
            yield pipe.taken()
    yield pipe.taken()


class _Pipe(io.RawIOBase):
    """Takes what is written to it, to be fetched and forgotten at once."""

    def __init__(self) -> None:
        self._kept = bytearray()

    def writable(self) -> bool:
        return True

    def write(self, data) -> int:  # type: ignore[no-untyped-def]
        self._kept += data
        return len(data)

    def taken(self) -> bytes:
        kept = bytes(self._kept)
        self._kept.clear()
        return kept
