"""The first sheet of a workbook (.xlsx), as the same rows that a CSV file gives."""

from __future__ import annotations

import io
import zipfile
from collections.abc import Iterator
from datetime import date, datetime, time
from typing import Any

import openpyxl

from .problems import Problems, Unreadable
from .splitting import Row, tidy

# A packed file may be small and its inside huge.
MOST_UNPACKED = 80_000_000
MOST_LINES = 100_000


def is_workbook(data: bytes) -> bool:
    return data.startswith(b"PK\x03\x04")


def sheet_rows(data: bytes, problems: Problems) -> Iterator[Row]:
    """Every row of the first sheet. Formulas are named as problems: their results cannot be trusted here."""
    _check_size(data)
    try:
        book = openpyxl.load_workbook(io.BytesIO(data), read_only=True, data_only=False)
        sheet = book.worksheets[0]
        sheet.reset_dimensions()
        for line, cells in enumerate(sheet.iter_rows(), 1):
            if line > MOST_LINES:
                raise Unreadable(
                    f"The sheet has more than {MOST_LINES:,} lines, blank ones counted.", status=413
                )
            yield Row(line, [_text(cell, line, problems) for cell in cells])
    except Unreadable:
        raise
    except Exception as broken:
        # The reader of workbooks answers damage with whatever error comes first.
        raise Unreadable("This workbook cannot be read. Save it once more, or save it as CSV.") from broken


def _check_size(data: bytes) -> None:
    try:
        with zipfile.ZipFile(io.BytesIO(data)) as packed:
            unpacked = sum(part.file_size for part in packed.infolist())
            is_book = "xl/workbook.xml" in packed.namelist()
    except (zipfile.BadZipFile, ValueError, OSError) as broken:
        raise Unreadable("This packed file is cut off or damaged.") from broken
    if not is_book:
        raise Unreadable("This is a packed file, not a table of instruments.")
    if unpacked > MOST_UNPACKED:
        raise Unreadable("Unpacked, this workbook is too large.", status=413)


def _text(cell: Any, line: int, problems: Problems) -> str:
    value = cell.value
    if getattr(cell, "data_type", "") == "f":
        problems.add(line, f"column {cell.column_letter}", str(value), "a value; paste formulas as values")
        return ""
    if value is None:
        return ""
    if isinstance(value, bool):
        return "yes" if value else "no"
    if isinstance(value, datetime):
        return f"{value:%Y-%m-%d}" if value.time() == time.min else f"{value:%Y-%m-%d %H:%M:%S}"
    if isinstance(value, date):
        return value.isoformat()
    if isinstance(value, float):
        return f"{value:.10g}"
    return tidy(str(value))
