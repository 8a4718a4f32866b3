"""The weekly report as a letter: plain words, and the PDF with it."""

from __future__ import annotations

from collections.abc import Sequence

from django.core.mail import EmailMessage

from . import paper, words
from .figures import Figures
from .models import WeeklyReport


def to_readers(report: WeeklyReport, *, to: Sequence[str]) -> EmailMessage:
    """The letter, ready to be sent; its Message-ID is the week's own, so a second copy is known as one."""
    letter = EmailMessage(
        subject=words.subject(report.figures),
        body=body(report),
        to=list(to),
        headers={"Message-ID": f"<{str(report).lower()}-{report.made_at:%Y%m%d%H%M%S}@weekly-report>"},
    )
    letter.attach(f"{report}.pdf", paper.pdf(report).read_bytes(), "application/pdf")
    return letter


def body(report: WeeklyReport) -> str:
    figures: Figures = report.figures
    parts = [
        f"{figures['shop']['name']}\n{words.title(figures['week'])}, {words.dates(figures)}",
        "\n".join(f"- {sentence}" for sentence in words.summary(figures)),
        _list("Finished", [_instrument(row) for row in figures["finished"]["rows"]]),
        _list("Stopped", [_snag(row) for row in figures["snags"]]),
        f"Made by {report.made_by}, from the ledger up to line {report.last_move}.",
    ]
    if figures["shop"]["is_demo"]:
        parts.append("This is the demo shop: everything in it is invented.")
    return "\n\n".join(part for part in parts if part) + "\n"


def _list(head: str, lines: Sequence[str]) -> str:
    return "\n".join([f"{head}:", *(f"  {line}" for line in lines)]) if lines else ""


def _instrument(row: dict[str, str]) -> str:
    return ", ".join(str(part) for part in (row["number"], row["title"], row["route"]) if part)


def _snag(row: dict[str, str]) -> str:
    return (
        f"{row['number']} {row['task']}: {row['reason']} "
        f"({words.count(int(row['days']), 'day')}, {row['owner']})"
    )
