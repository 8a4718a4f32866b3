"""Papers for customers, set by typst from words that were frozen, and kept in the data folder.

A layout lies in templates/offers/paper/ and begins with `#import "letter.typ": *`. It is compiled in a folder
that holds the layouts and the photos of this one paper, and nothing else of the machine.
"""

from __future__ import annotations

import hashlib
import json
import re
import secrets
import shutil
import tempfile
from collections.abc import Mapping
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any

import typst
from django.conf import settings

from shopflow.catalogue.models import Shop, Terms

LAYOUTS = Path(settings.BASE_DIR) / "templates" / "offers" / "paper"
FONTS = Path(settings.BASE_DIR) / "static" / "fonts"
# A word longer than any real one must not run off the paper.
_TOO_LONG = re.compile(r"(\S{24})(?=\S)")
_ZERO_WIDTH_SPACE = "\u200b"


@dataclass(frozen=True, slots=True)
class Paper:
    """One paper: its layout, its words, and its photos by the name under which the layout finds them."""

    name: str
    layout: str
    words: Mapping[str, Any]
    photos: Mapping[str, Path] = field(default_factory=dict)


def pdf(paper: Paper) -> Path:
    """Its file, made the first time it is asked for and again when layout or words have changed."""
    data = json.dumps(_printable(paper.words), ensure_ascii=True, sort_keys=True)
    layouts = b"".join((LAYOUTS / name).read_bytes() for name in ("letter.typ", paper.layout))
    key = hashlib.sha256(layouts + data.encode()).hexdigest()[:16]
    kept = Path(settings.DATA_DIR) / "papers" / f"{paper.name}-{key}.pdf"
    if not kept.exists():
        kept.parent.mkdir(mode=0o700, exist_ok=True)
        # Whole before it has its name: two who ask at once each write a file of their own.
        fresh = kept.with_suffix(f".{secrets.token_hex(4)}")
        fresh.write_bytes(_typeset(paper, data))
        fresh.replace(kept)
    return kept


def letter_head(
    *, shop: Shop, terms: Terms, kind: str, number: str, date: str, to: str = ""
) -> dict[str, Any]:
    """What letter.typ puts at the head and the foot of a paper."""
    return {
        "shop": shop.name,
        "town": shop.town,
        "address": shop.address.splitlines(),
        "demo": shop.is_demo,
        "foot": terms.letter_foot,
        "to": to,
        "kind": kind,
        "number": number,
        "date": date,
    }


def _typeset(paper: Paper, data: str) -> bytes:
    with tempfile.TemporaryDirectory(prefix="paper-") as folder:
        for layout in LAYOUTS.glob("*.typ"):
            shutil.copy(layout, folder)
        for name, photo in paper.photos.items():
            shutil.copy(photo, Path(folder) / name)
        made = typst.compile(
            str(Path(folder) / paper.layout),
            root=folder,
            font_paths=[str(FONTS)],
            ignore_system_fonts=True,
            sys_inputs={"data": data},
            format="pdf",
            pdf_standards=["ua-1"],
        )
    assert isinstance(made, bytes)
    return made


def _printable(value: Any) -> Any:
    """Every text in it without control characters, and with places to break."""
    if isinstance(value, str):
        seen = "".join(letter for letter in value if letter.isprintable() or letter in " \n")
        return _TOO_LONG.sub(rf"\1{_ZERO_WIDTH_SPACE}", seen)
    if isinstance(value, Mapping):
        return {key: _printable(one) for key, one in value.items()}
    if isinstance(value, list | tuple):
        return [_printable(one) for one in value]
    return value
