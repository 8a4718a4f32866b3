"""Tags to print: for the crates of an instrument and for the instrument itself."""

from __future__ import annotations

from dataclasses import dataclass, field

from django.http import Http404, HttpRequest, HttpResponse
from django.shortcuts import render
from django.urls import reverse
from django.views.decorators.http import require_safe

from shopflow.people.access import Deed
from shopflow.people.door import only

from ..models import Instrument
from ..selectors import instrument_or_404
from ..selectors.crates import CrateRow, crates_of
from ..tags import address_on_tag, qr_path

LAYOUTS = [("paper", "paper, with contents and QR code"), ("metal", "stamped metal, numbers only")]
LINES_ON_A_TAG = 7


@dataclass(frozen=True, slots=True)
class Tag:
    """One tag. A customer's name is never on it."""

    instrument: Instrument
    number: str
    qr: str
    side: int
    row: CrateRow | None = None
    lines: list[str] = field(default_factory=list)
    more: int = 0


@only(Deed.SEE_SHOP)
@require_safe
def tags(request: HttpRequest, number: str) -> HttpResponse:
    """Choose which, look at them, print the page."""
    instrument = instrument_or_404(number)
    rows = crates_of(instrument)
    chosen = _chosen(request, rows)
    layout = request.GET.get("layout", "paper")
    if layout not in dict(LAYOUTS):
        raise Http404("There is no such layout.")
    own = "own" in request.GET or not _is_asked(request)
    made = [_own_tag(request, instrument)] if own else []
    context = {
        "instrument": instrument,
        "rows": [(row, row.crate.number in chosen) for row in rows],
        "tags": made + [_tag(request, instrument, row) for row in rows if row.crate.number in chosen],
        "layout": layout,
        "layouts": LAYOUTS,
        "own": own,
    }
    return render(request, "instruments/tags.html", context)


def _is_asked(request: HttpRequest) -> bool:
    return bool({"crate", "own", "layout"} & request.GET.keys())


def _chosen(request: HttpRequest, rows: list[CrateRow]) -> set[int]:
    """The crates asked for, all of this instrument; at first those that are in use."""
    if not _is_asked(request):
        return {row.crate.number for row in rows if row.crate.state != "emptied"}
    asked = set(request.GET.getlist("crate"))
    known = {str(row.crate.number): row.crate.number for row in rows}
    if asked - known.keys():
        raise Http404("There is no such crate of this instrument.")
    return {known[one] for one in asked}


def _own_tag(request: HttpRequest, instrument: Instrument) -> Tag:
    path, side = qr_path(address_on_tag(request, instrument.get_absolute_url()))
    return Tag(instrument, instrument.number, path, side)


def _tag(request: HttpRequest, instrument: Instrument, row: CrateRow) -> Tag:
    where = reverse("instruments:crate", args=[row.crate.number])
    path, side = qr_path(address_on_tag(request, where))
    lines = [str(line) for line in row.lines if line.count]
    return Tag(
        instrument,
        str(row.crate.number),
        path,
        side,
        row,
        lines[:LINES_ON_A_TAG],
        max(0, len(lines) - LINES_ON_A_TAG),
    )
