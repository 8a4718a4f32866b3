"""Taking data out: what there is, who took what, and the files themselves."""

from __future__ import annotations

from collections.abc import AsyncIterator, Iterator

from asgiref.sync import sync_to_async
from django.contrib.auth.decorators import login_required
from django.core.handlers.asgi import ASGIRequest
from django.http import Http404, HttpRequest, HttpResponse, StreamingHttpResponse
from django.http.response import HttpResponseBase
from django.shortcuts import render
from django.utils.http import content_disposition_header
from django.views.decorators.http import require_POST, require_safe

from shopflow.catalogue.selectors import the_shop
from shopflow.common import clock
from shopflow.people import access
from shopflow.people.access import Deed
from shopflow.reports import services
from shopflow.reports.exports.files import as_csv, as_zip
from shopflow.reports.exports.tables import TABLES
from shopflow.reports.models import TakenOut

EVERYTHING = "everything"
LATELY = 20


@login_required
@require_safe
def exports(request: HttpRequest) -> HttpResponse:
    """What can be taken out, and what was lately."""
    access.require(request.user, Deed.EXPORT)
    context = {
        "tables": TABLES.values(),
        "everything": EVERYTHING,
        "lately": TakenOut.objects.select_related("by")[:LATELY],
    }
    return render(request, "reports/exports.html", context)


@login_required
@require_POST
def take_out(request: HttpRequest, what: str) -> HttpResponseBase:
    """One table as CSV, or all of them as one ZIP. Noted with who and when before the first byte goes out."""
    access.require(request.user, Deed.EXPORT)
    if what not in TABLES and what != EVERYTHING:
        raise Http404(f"there is no table {what}")
    services.note_taken_out(what=what, by=request.user)
    zone, now = the_shop().zone, clock.now()
    name = f"{what}-{now.astimezone(zone):%Y-%m-%d}"
    if what == EVERYTHING:
        return _sent(request, as_zip(TABLES.values(), zone=zone, at=now), f"{name}.zip", "application/zip")
    return _sent(request, as_csv(TABLES[what], zone=zone), f"{name}.csv", "text/csv; charset=utf-8")


def _sent(request: HttpRequest, pieces: Iterator[bytes], name: str, kind: str) -> HttpResponseBase:
    """Piece by piece. An asynchronous server would gather a plain iterator whole before it sends anything."""
    ready = _awaited(pieces) if isinstance(request, ASGIRequest) else pieces
    response = StreamingHttpResponse(ready, content_type=kind)
    response["Content-Disposition"] = content_disposition_header(as_attachment=True, filename=name)
    # Else the pieces would be gathered to be compressed.
    response["Content-Encoding"] = "identity"
    return response


async def _awaited(pieces: Iterator[bytes]) -> AsyncIterator[bytes]:
    fetch = sync_to_async(lambda: next(pieces, None))
    while (piece := await fetch()) is not None:
        yield piece
