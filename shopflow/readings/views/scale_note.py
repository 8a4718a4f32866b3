"""One note after another: fast entry on a tablet, by finger or by keyboard."""

from __future__ import annotations

from typing import Any

from django.contrib import messages
from django.http import Http404, HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.urls import reverse
from django.views.decorators.http import require_http_methods, require_POST

from shopflow.catalogue.models import SheetKind
from shopflow.common.refusals import Refused
from shopflow.instruments.selectors import instrument_or_404
from shopflow.people.access import Deed
from shopflow.people.door import me, only
from shopflow.people.edits import ChangedMeanwhile, mark_of
from shopflow.readings import scale_words
from shopflow.readings.benches import require_write
from shopflow.readings.models import ScaleNote, StringScale
from shopflow.readings.note_cells import (
    CellsRefused,
    NoteDraft,
    draft_of,
    facts_of,
    read_cells,
    shown_cells,
)
from shopflow.readings.note_names import note_name
from shopflow.readings.selectors.scale import reckon, scale_or_404, units_of_the_shop
from shopflow.readings.services import scale as services

from .scale import page_context
from .spoken import spoken

CELLS = ("section", "strings", "length_mm", "wire", "cover_mm", "ends", "overall_mm")
SECTIONS = ("bass", "tenor", "treble", "high treble")


@only(Deed.READINGS)
@require_http_methods(["GET", "HEAD", "POST"])
def note(request: HttpRequest, number: str, pk: int, note: int) -> HttpResponse:
    """The form of one note; sent, the note is kept and the next one is there."""
    scale = _scale(request, number, pk, note)
    if request.method == "POST":
        return _Entry(request, scale, note).kept()
    return _Entry(request, scale, note).page()


@only(Deed.READINGS)
@require_POST
def off(request: HttpRequest, number: str, pk: int, note: int) -> HttpResponse:
    """Take a note out of the scale."""
    scale = _scale(request, number, pk, note)
    try:
        services.take_note_off(scale=scale, note=note, seen=request.POST.get("seen", ""), by=me(request))
    except ChangedMeanwhile as clash:
        return _Entry(request, scale, note).page(status=409, refusal=str(clash))
    messages.success(request, f"Note {note} is taken out of the scale.")
    return redirect("readings:scale-note", number=scale.instrument.number, pk=scale.pk, note=note)


def _scale(request: HttpRequest, number: str, pk: int, note: int) -> StringScale:
    scale = scale_or_404(instrument_or_404(number), pk)
    require_write(me(request), SheetKind.STRINGS)
    if not 1 <= note <= 88:
        raise Http404("A piano has 88 notes.")
    return scale


class _Entry:
    """One note being entered: what stands, what is offered, what was typed."""

    def __init__(self, request: HttpRequest, scale: StringScale, note: int) -> None:
        self.request, self.scale, self.note = request, scale, note
        self.units = units_of_the_shop()
        self.way = -1 if "down" in {request.GET.get("way"), request.POST.get("way")} else 1
        self.rows = {row.note: row for row in scale.notes.select_related("by")}

    @property
    def row(self) -> ScaleNote | None:
        return self.rows.get(self.note)

    @property
    def last(self) -> NoteDraft | None:
        """The note entered before this one: the neighbour one comes from, or the nearest on that side."""
        behind = [note for note in self.rows if (self.note - note) * self.way > 0]
        nearest = min(behind, key=lambda note: abs(note - self.note), default=None)
        return draft_of(self.rows[nearest]) if nearest else None

    def kept(self) -> HttpResponse:
        typed = {name: self.request.POST.get(name, "") for name in CELLS}
        if "same" in self.request.POST and self.last is not None:
            same = shown_cells(self.last, self.units)
            typed = {name: same[name] for name in CELLS}
        try:
            draft = read_cells(typed | {"note": str(self.note)}, gauge=self.scale.gauge, units=self.units)
            return self._put(draft, typed)
        except CellsRefused as refused:
            errors = {fault.column: fault.allowed for fault in refused.faults}
            return self.page(status=422, typed=typed, errors=errors)
        except Refused as refused:
            return self.page(status=422, typed=typed, refusal=refused.message)
        except ChangedMeanwhile as clash:
            self.rows = {row.note: row for row in self.scale.notes.all()}
            return self.page(status=409, typed=typed, refusal=str(clash), clash=True)

    def _put(self, draft: NoteDraft, typed: dict[str, str]) -> HttpResponse:
        doubts = self._doubts(draft)
        if doubts and "yes" not in self.request.POST:
            return self.page(status=422, typed=typed, doubts=doubts)
        services.put_note(
            scale=self.scale,
            draft=draft,
            seen=self.request.POST.get("seen", ""),
            by=me(self.request),
            measured_again=bool(doubts),
        )
        messages.success(self.request, f"Note {self.note} ({note_name(self.note)}) is kept.")
        return redirect(self._url(self._next()))

    def _doubts(self, draft: NoteDraft) -> list[str]:
        if facts_of(self.row) == draft.facts():
            return []
        figures = services.reckoned(self.scale, [draft])
        near = [draft_of(self.rows[n]) for n in (self.note - 1, self.note + 1) if n in self.rows]
        return scale_words.doubts(draft, figures.notes[0], near, self.units) if figures else []

    def _next(self) -> int:
        return min(88, max(1, self.note + self.way))

    def _url(self, note: int) -> str:
        url = reverse("readings:scale-note", args=[self.scale.instrument.number, self.scale.pk, note])
        return f"{url}?way=down" if self.way < 0 else url

    def _offered(self) -> dict[str, str]:
        """What the form shows at first: what stands, else the last note's wire and section, and no length."""
        if self.row is not None:
            return shown_cells(draft_of(self.row), self.units)
        if self.last is None:
            return {"strings": "1" if self.note < 12 else "3", "section": "bass" if self.note < 27 else ""}
        return shown_cells(self.last, self.units) | {"length_mm": "", "overall_mm": ""}

    def _sections(self) -> list[str]:
        """Names to choose from: the usual ones and those of this scale."""
        here = (row.section for row in self.rows.values() if row.section)
        return list(dict.fromkeys([*SECTIONS, *here]))

    def page(self, *, status: int = 200, typed: dict[str, str] | None = None, **more: Any) -> HttpResponse:
        offered = self._offered()
        shown = reckon(self.scale, self.units)
        errors = more.pop("errors", {})
        context = page_context(self.request, shown) | {
            "note": self.note,
            "name": note_name(self.note),
            "row": self.row,
            "line": next((line for line in shown.lines if line.row.note == self.note), None),
            "cells": [(name, (typed or offered).get(name, ""), errors.get(name, "")) for name in CELLS],
            "cell": {name: (typed or offered).get(name, "") for name in CELLS},
            "errors": errors,
            "last": self.last,
            "last_cells": shown_cells(self.last, self.units) if self.last else {},
            "seen": mark_of(facts_of(self.row)),
            "sections": self._sections(),
            "unit": "in" if self.units == "inch" else "mm",
            "way": "down" if self.way < 0 else "up",
            "before_url": self._url(max(1, self.note - self.way)) if 1 <= self.note - self.way <= 88 else "",
            "after_url": self._url(self._next()) if 1 <= self.note + self.way <= 88 else "",
            "count": len(self.rows),
            **spoken(self.request),
            **more,
        }
        return render(self.request, "readings/scale_note.html", context, status=status)
