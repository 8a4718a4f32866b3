"""The order of a bass set on paper, set by typst: what a string maker needs, note by note.

What a person typed goes to typst as JSON and is printed as it stands, never read as markup. Only the fonts
that come with the project are used, so a page looks the same on every machine.
"""

from __future__ import annotations

import json
import re
from pathlib import Path
from typing import Any

import typst
from django.conf import settings
from django.utils import timezone

from shopflow.catalogue.models import Shop
from shopflow.common import clock

from .selectors.order import Order

LAYOUT = Path(settings.BASE_DIR) / "templates" / "readings" / "bass_order.typ"
FONTS = Path(settings.BASE_DIR) / "static" / "fonts"
TOO_LONG = re.compile(r"(\S{24})(?=\S)")


def pdf(order: Order, shop: Shop | None) -> bytes:
    """The order as a PDF."""
    made = typst.compile(
        str(LAYOUT),
        root=str(LAYOUT.parent),
        font_paths=[str(FONTS)],
        ignore_system_fonts=True,
        sys_inputs={"data": json.dumps(_printable(_sheet(order, shop)), ensure_ascii=True)},
        format="pdf",
        pdf_standards=["ua-1"],
    )
    assert isinstance(made, bytes)
    return made


def _sheet(order: Order, shop: Shop | None) -> dict[str, Any]:
    instrument = order.scale.instrument
    return {
        "shop": shop.name if shop else "The workshop",
        "address": [line for line in (shop.address.splitlines() if shop else []) if line.strip()],
        "demo": bool(shop and shop.is_demo),
        "title": f"Order of a bass set for {instrument.number}",
        "piano": f"{instrument.get_kind_display().capitalize()}, number {instrument.number}",
        "scale": f"Scale: {order.scale}, A4 = {order.scale.a4_hz:g} Hz",
        "made": f"{timezone.localtime(clock.now()):%-d %B %Y}",
        "count": order.count_words,
        "heads": order.heads,
        "rows": [line.cells for line in order.lines],
        "notes": order.notes,
    }


def _printable(value: Any) -> Any:
    """Every text without control characters and with places to break."""
    if isinstance(value, str):
        seen = "".join(letter for letter in value if letter.isprintable())
        return TOO_LONG.sub("\\1\u200b", seen)
    if isinstance(value, dict):
        return {key: _printable(one) for key, one in value.items()}
    if isinstance(value, list | tuple):
        return [_printable(one) for one in value]
    return value
