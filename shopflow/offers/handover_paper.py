"""A handover report as a paper: exactly what was frozen, with its photos."""

from __future__ import annotations

from pathlib import Path
from typing import Any
from uuid import UUID

from django.utils import timezone

from shopflow.catalogue.selectors import the_shop
from shopflow.offers.frozen import day_in_words
from shopflow.offers.models import Handover
from shopflow.offers.selectors.terms import the_terms
from shopflow.photos import files

from .paper import Paper, letter_head, pdf


def paper_of(handover: Handover) -> Path:
    """The file of a report that was handed over; a photo whose file is gone is left out."""
    report: dict[str, Any] = handover.frozen or {}
    photos = _photos(report)
    return pdf(
        Paper(
            name=f"handover-{handover.instrument.number}-{handover.number}",
            layout="handover.typ",
            words=_sheet(handover, report, set(photos)),
            photos=photos,
        )
    )


def _photos(report: dict[str, Any]) -> dict[str, Path]:
    paths = {_file(key): files.copy(UUID(key), 1600) for key in report["photos"]}
    return {name: path for name, path in paths.items() if path.exists()}


def _file(key: str) -> str:
    """Short, so that no break for long words falls into it; 64 bits tell the photos of one report apart."""
    return f"{UUID(key).hex[:16]}.jpg"


def _sheet(handover: Handover, report: dict[str, Any], there: set[str]) -> dict[str, Any]:
    piano = report["instrument"]
    given = timezone.localdate(handover.handed_over_at) if handover.handed_over_at else None
    facts = [
        ["Number", piano["number"]],
        ["Serial", piano["serial"]],
        ["Finish", piano["finish"]],
        ["With us from", piano["arrived"]],
        ["Finished", piano["finished"]],
        ["Handed over", day_in_words(given)],
        ["To", handover.received_by],
    ]
    told = ("words", "changes", "done", "left", "materials", "old_parts", "care", "tunings", "warranty")
    since_proved = ("claims", "open", "by_the_way", "aftercare", "visits")
    return {name: report[name] for name in (*told, "cautions", "names", "checks")} | {
        # A report that went home before these were told says nothing of them.
        **{name: report.get(name, []) for name in since_proved},
        # Reports of before it was written down have no such part.
        "unsafe": report.get("unsafe", []),
        "furniture": report.get("furniture", ""),
        "letter": letter_head(
            shop=the_shop(),
            terms=the_terms(),
            kind="Handover report",
            number=f"{piano['number']}/{handover.number}",
            date=day_in_words(given),
            to=handover.received_by,
        ),
        "title": piano["title"],
        "facts": [[name, value] for name, value in facts if value],
        "sold": _sold(report["sold"]),
        "mends": "; ".join(report["sold"].get("mends", [])),
        "pairs": [
            pair
            for pair in map(_pair, report["pairs"])
            if {pair["before"]["file"], pair["after"]["file"]} <= there
        ],
        "readings": [
            [
                " ".join(part for part in (one["name"], one["place"]) if part),
                one["before"],
                one["after"],
                one["usual"] or "–",
            ]
            for one in report["readings"]
        ],
        "checked": _checked(report),
        "print": f"Print {handover.fingerprint[:16]}",
    }


def _sold(sold: dict[str, Any]) -> str:
    if not sold:
        return ""
    version, by, on = sold["version"], sold["by"], sold["on"]
    return f"{sold['option']}, by our offer, version {version}, approved by {by} on {on}."


def _pair(pair: dict[str, str]) -> dict[str, dict[str, str]]:
    return {
        side: {
            "file": _file(pair[side]),
            "alt": f"{pair[side + '_words']}, {side}",
            "words": pair[side + "_on"],
        }
        for side in ("before", "after")
    }


def _checked(report: dict[str, Any]) -> str:
    return f"Checked at the end by {report['checked_by']} on {report['checked_on']}, line by line."
