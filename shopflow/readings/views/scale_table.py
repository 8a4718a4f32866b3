"""The whole scale as one table, for a desk: 88 rows, kept all together or not at all."""

from __future__ import annotations

from typing import Any

from django.contrib import messages
from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.views.decorators.http import require_http_methods

from shopflow.catalogue.models import SheetKind
from shopflow.common.refusals import Refused
from shopflow.instruments.selectors import instrument_or_404
from shopflow.people.access import Deed
from shopflow.people.door import me, only
from shopflow.readings.benches import require_write
from shopflow.readings.models import StringScale
from shopflow.readings.note_cells import CellsRefused, NoteDraft, draft_of, read_cells, shown_cells
from shopflow.readings.note_names import note_name
from shopflow.readings.selectors.scale import reckon, scale_or_404, units_of_the_shop
from shopflow.readings.services import scale as services

from .scale import page_context
from .scale_note import CELLS

HEADS = {
    "section": "section",
    "strings": "strings",
    "length_mm": "speaking length",
    "wire": "wire or core",
    "cover_mm": "over the winding",
    "ends": "ends",
    "overall_mm": "hitch to pin",
}


@only(Deed.READINGS)
@require_http_methods(["GET", "HEAD", "POST"])
def table(request: HttpRequest, number: str, pk: int) -> HttpResponse:
    scale, units = scale_or_404(instrument_or_404(number), pk), units_of_the_shop()
    require_write(me(request), SheetKind.STRINGS)
    if request.method != "POST":
        typed = {row.note: shown_cells(draft_of(row), units) for row in scale.notes.all()}
        return _page(request, scale, units, typed, version=scale.version)
    typed = _typed(request)
    drafts, faults = _read(typed, scale, units)
    if faults:
        return _page(request, scale, units, typed, version=_seen(request), status=422, faults=faults)
    try:
        services.put_table(scale=scale, drafts=drafts, seen_version=_seen(request), by=me(request))
    except Refused as refused:
        return _page(
            request, scale, units, typed, version=_seen(request), status=422, refusal=refused.message
        )
    except services.TableChanged as clash:
        now = scale_or_404(scale.instrument, pk)
        words = f"{clash} Your table is below; save once more to put it in place of what stands."
        return _page(request, now, units, typed, version=now.version, status=409, refusal=words)
    messages.success(request, f"{len(drafts)} notes are kept.")
    return redirect("readings:scale", number=scale.instrument.number, pk=pk)


def _seen(request: HttpRequest) -> int:
    typed = request.POST.get("version", "")
    return int(typed) if typed.isdecimal() and len(typed) < 10 else 0


def _typed(request: HttpRequest) -> dict[int, dict[str, str]]:
    """The rows in which anything was written but what the form offers by itself."""
    rows = {}
    for note in range(1, 89):
        cells = {name: request.POST.get(f"n{note}-{name}", "").strip()[:60] for name in CELLS}
        if any(cells.values()):
            rows[note] = cells
    return rows


def _read(
    typed: dict[int, dict[str, str]], scale: StringScale, units: str
) -> tuple[list[NoteDraft], dict[int, dict[str, str]]]:
    drafts, faults = [], {}
    for note, cells in typed.items():
        try:
            drafts.append(read_cells(cells | {"note": str(note)}, gauge=scale.gauge, units=units))
        except CellsRefused as refused:
            faults[note] = {fault.column: fault.allowed for fault in refused.faults}
    return drafts, faults


def _cells(note: int, typed: dict[str, str], wrong: dict[str, str]) -> list[tuple[str, str, str, str]]:
    """Of each cell its name, its head, what stands in it and what is wrong with it."""
    return [(f"n{note}-{name}", HEADS[name], typed.get(name, ""), wrong.get(name, "")) for name in CELLS]


def _page(
    request: HttpRequest,
    scale: StringScale,
    units: str,
    typed: dict[int, dict[str, str]],
    *,
    version: int,
    status: int = 200,
    faults: dict[int, dict[str, str]] | None = None,
    refusal: str = "",
) -> HttpResponse:
    wrong = faults or {}
    rows = [
        (note, note_name(note), _cells(note, typed.get(note, {}), wrong.get(note, {})))
        for note in range(1, 89)
    ]
    context: dict[str, Any] = page_context(request, reckon(scale, units)) | {
        "rows": rows,
        "heads": HEADS.values(),
        "version": version,
        "refusal": refusal,
        "faults": [
            (note, note_name(note), HEADS[name], words, f"n{note}-{name}")
            for note, columns in wrong.items()
            for name, words in columns.items()
        ],
        "unit": "inches" if units == "inch" else "millimetres",
    }
    return render(request, "readings/scale_table.html", context, status=status)
