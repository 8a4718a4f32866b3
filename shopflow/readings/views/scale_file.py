"""A scale out into a file and back from one: looked at first, all of it or nothing."""

from __future__ import annotations

from typing import Any

from django.contrib import messages
from django.http import Http404, HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.views.decorators.http import require_http_methods, require_safe

from shopflow.catalogue.models import SheetKind
from shopflow.common.refusals import Refused
from shopflow.instruments.selectors import instrument_or_404
from shopflow.people.access import Deed
from shopflow.people.door import me, only
from shopflow.readings.benches import require_write
from shopflow.readings.forms.scale import ScaleFileForm
from shopflow.readings.models import ScaleNote, StringScale
from shopflow.readings.note_cells import NoteDraft, cells_of, facts_of
from shopflow.readings.note_names import note_name
from shopflow.readings.selectors.scale import reckon, scale_or_404, units_of_the_shop
from shopflow.readings.services import scale as services
from shopflow.readings.services import scale_file
from shopflow.workshop.services.bringing import keeping
from shopflow.workshop.services.bringing.problems import Unreadable

from .scale import page_context
from .scale_table import _seen


@only(Deed.SEE_SHOP)
@require_safe
def out(request: HttpRequest, number: str, pk: int) -> HttpResponse:
    scale = scale_or_404(instrument_or_404(number), pk)
    answer = HttpResponse("\ufeff" + scale_file.written(scale), content_type="text/csv; charset=utf-8")
    answer["Content-Disposition"] = f'attachment; filename="scale-{scale.instrument.number}-{pk}.csv"'
    return answer


@only(Deed.READINGS)
@require_http_methods(["GET", "HEAD", "POST"])
def bring(request: HttpRequest, number: str, pk: int) -> HttpResponse:
    """Choose a file. One with faults is answered with them; one without waits to be looked at."""
    scale = scale_or_404(instrument_or_404(number), pk)
    require_write(me(request), SheetKind.STRINGS)
    if request.method != "POST":
        return _choose(request, scale, ScaleFileForm())
    form = ScaleFileForm(request.POST, request.FILES)
    if not form.is_valid():
        return _choose(request, scale, form, status=413 if form.has_error("file", code="too-large") else 422)
    file = form.cleaned_data["file"]
    data = file.read()
    try:
        found = scale_file.read(data, gauge=scale.gauge)
        services.reckoned(scale, found.drafts)
    except Unreadable as unreadable:
        form.add_error("file", unreadable.words)
        return _choose(request, scale, form, status=unreadable.status)
    except Refused as refused:
        form.add_error("file", refused.message)
        return _choose(request, scale, form, status=422)
    if found.problems:
        return _choose(request, scale, ScaleFileForm(), status=422, found=found, file_name=file.name)
    key = keeping.keep(data=data, name=file.name, by=me(request))
    return redirect("readings:scale-look", number=scale.instrument.number, pk=pk, key=key)


@only(Deed.READINGS)
@require_http_methods(["GET", "HEAD", "POST"])
def look(request: HttpRequest, number: str, pk: int, key: str) -> HttpResponse:
    """What the kept file would put in place of the scale; sent, it does, all of it or nothing."""
    scale = scale_or_404(instrument_or_404(number), pk)
    require_write(me(request), SheetKind.STRINGS)
    kept = keeping.kept(key, by=me(request))
    if kept is None:
        raise Http404("No such file is waiting.")
    try:
        found = scale_file.read(kept.data, gauge=scale.gauge)
    except Unreadable as unreadable:
        raise Http404("No such file is waiting.") from unreadable
    if found.problems:
        raise Http404("No such file is waiting.")
    if request.method != "POST":
        return _look(request, scale, kept, found)
    try:
        services.put_table(scale=scale, drafts=found.drafts, seen_version=_seen(request), by=me(request))
    except Refused as refused:
        return _look(request, scale, kept, found, status=422, refusal=refused.message)
    except services.TableChanged as clash:
        now = scale_or_404(scale.instrument, pk)
        words = f"{clash} Look at what would change, and send it once more."
        return _look(request, now, kept, found, status=409, refusal=words)
    keeping.forget(key, by=me(request))
    messages.success(request, f"{len(found.drafts)} notes came in from {kept.name}.")
    return redirect("readings:scale", number=scale.instrument.number, pk=pk)


def _row(draft: NoteDraft) -> list[str]:
    cells = cells_of(draft)
    return [cells[name] for name in scale_file.COLUMNS[1:]]


def _fate(draft: NoteDraft, row: ScaleNote | None) -> str:
    if row is None:
        return "new"
    return "as it is" if facts_of(row) == draft.facts() else "changed"


def _choose(
    request: HttpRequest, scale: StringScale, form: ScaleFileForm, *, status: int = 200, **more: Any
) -> HttpResponse:
    context = page_context(request, reckon(scale, units_of_the_shop())) | {
        "form": form,
        "columns": scale_file.columns_help(),
        **more,
    }
    return render(request, "readings/scale_bring.html", context, status=status)


def _look(
    request: HttpRequest,
    scale: StringScale,
    kept: keeping.Kept,
    found: scale_file.Table,
    *,
    status: int = 200,
    refusal: str = "",
) -> HttpResponse:
    standing = {row.note: row for row in scale.notes.all()}
    rows = [
        (draft.note, note_name(draft.note), _row(draft), _fate(draft, standing.get(draft.note)))
        for draft in found.drafts
    ]
    gone = sorted(set(standing) - {draft.note for draft in found.drafts})
    context = page_context(request, reckon(scale, units_of_the_shop())) | {
        "kept": kept,
        "found": found,
        "rows": rows,
        "heads": scale_file.COLUMNS[1:],
        "gone": gone,
        "stats": [(sum(1 for row in rows if row[3] == word), word) for word in ("new", "changed", "as it is")]
        + [(len(gone), "taken out")],
        "refusal": refusal,
    }
    return render(request, "readings/scale_look.html", context, status=status)
