"""The weekly report on paper: set by typst from the frozen figures, and kept in the data folder.

Everything that a person typed goes to typst as JSON and is printed as it stands, never read as markup. Only
the fonts that come with the project are used, so a page looks the same on every machine.
"""

from __future__ import annotations

import hashlib
import json
import re
import secrets
from pathlib import Path
from typing import Any

import typst
from django.conf import settings
from django.utils import timezone

from . import pictures, words
from .figures import Bench, Figures
from .models import WeeklyReport

LAYOUT = Path(settings.BASE_DIR) / "templates" / "reports" / "week.typ"
FONTS = Path(settings.BASE_DIR) / "static" / "fonts"
# A word longer than any real one must not run off the paper.
TOO_LONG = re.compile(r"(\S{24})(?=\S)")
ZERO_WIDTH_SPACE = "\u200b"


def pdf(report: WeeklyReport) -> Path:
    """The file of this report, made the first time it is asked for and again when the layout has changed."""
    data = json.dumps(sheet(report), ensure_ascii=True, sort_keys=True)
    key = hashlib.sha256(LAYOUT.read_bytes() + data.encode()).hexdigest()[:16]
    kept = Path(settings.DATA_DIR) / "reports" / f"{report}-{key}.pdf"
    if not kept.exists():
        kept.parent.mkdir(mode=0o700, exist_ok=True)
        # Whole before it has its name: two who ask at once each write a file of their own.
        fresh = kept.with_suffix(f".{secrets.token_hex(4)}")
        fresh.write_bytes(_typeset(data))
        fresh.replace(kept)
    return kept


def _typeset(data: str) -> bytes:
    made = typst.compile(
        str(LAYOUT),
        root=str(LAYOUT.parent),
        font_paths=[str(FONTS)],
        ignore_system_fonts=True,
        sys_inputs={"data": data},
        format="pdf",
        pdf_standards=["ua-1"],
    )
    assert isinstance(made, bytes)
    return made


def sheet(report: WeeklyReport) -> dict[str, Any]:
    """What is printed, ready in words: the layout only places it."""
    figures: Figures = report.figures
    wide, year, signed = (
        pictures.recent(figures),
        pictures.whole_year(figures),
        pictures.signed(figures),
    )
    return _printable(
        {
            "shop": figures["shop"]["name"],
            "town": figures["shop"]["town"],
            "demo": figures["shop"]["is_demo"],
            "week": str(report),
            "title": words.title(figures["week"]),
            "dates": words.dates(figures),
            "made": f"Made {timezone.localtime(report.made_at):%-d %B %Y, %H:%M} by {report.made_by}, "
            f"from the ledger up to line {report.last_move:,}.",
            "stats": words.stats(figures),
            "summary": words.summary(figures),
            "charts": [
                _picture(wide.svg(for_pdf=True, narrow=True), wide.title, wide.description),
                _picture(year.svg(for_pdf=True, narrow=True), year.title, year.description),
                _picture(signed.svg(for_pdf=True), signed.title, signed.description),
            ],
            "finished": [_finished(row) for row in figures["finished"]["rows"]],
            "again": [_again(row) for row in figures["finished"]["opened_again"]],
            "arrived": [[row["number"], row["title"], words.day(row["on"])] for row in figures["arrived"]],
            "left": [[row["number"], row["title"], words.day(row["on"])] for row in figures["left"]],
            "benches": [_bench(row) for row in figures["benches"]],
            "times": words.times(figures),
            "law": words.law(figures),
            "ages": [[age["label"], str(age["count"])] for age in figures["snag_ages"]],
            "snags": [_snag(row) for row in figures["snags"]],
        }
    )


def _picture(svg: str, title: str, description: str) -> dict[str, str]:
    return {"svg": svg, "title": title, "words": description}


def _finished(row: dict[str, Any]) -> list[str]:
    days = "–" if row["days"] is None else f"{row['days']}"
    return [row["number"], row["title"], row["route"] or "–", words.day(row["arrived_on"]), days]


def _again(row: dict[str, Any]) -> str:
    return f"{row['number']} {row['title']}, finished {words.day(row['finished_on'])}, was opened again."


def _bench(row: Bench) -> list[str]:
    states = [str(row[state] or "–") for state in ("racked", "benched", "resting", "proving", "stopped")]
    earned, spent, still_open = (
        f"{row[hours]:,.1f}" for hours in ("hours_earned", "hours_spent", "hours_open")
    )
    return [row["name"], str(row["signed"]), earned, spent, *states, still_open]


def _snag(row: dict[str, Any]) -> list[str]:
    where = f"{row['number']} {row['task']}"
    return [str(row["days"]), where, row["department"], f"{row['cause']}: {row['reason']}", row["owner"]]


def _printable(value: Any) -> Any:
    """Every text in it without control characters and with places to break; drawings stay as they are."""
    if isinstance(value, str):
        if value.startswith("<svg"):
            return value
        seen = "".join(letter for letter in value if letter.isprintable() or letter == " ")
        return TOO_LONG.sub(rf"\1{ZERO_WIDTH_SPACE}", seen)
    if isinstance(value, dict):
        return {key: _printable(one) for key, one in value.items()}
    if isinstance(value, list | tuple):
        return [_printable(one) for one in value]
    return value
