"""The stream by which tablets hear of each other's moves, and the same as a plain number."""

from __future__ import annotations

from collections.abc import AsyncIterator

from django.http import HttpRequest, HttpResponse, StreamingHttpResponse
from django.http.response import HttpResponseBase
from django.views.decorators.http import require_GET

from shopflow.common import pulse
from shopflow.common.live import watcher
from shopflow.people import access
from shopflow.people.access import Deed


async def live(request: HttpRequest) -> HttpResponseBase:
    """Server-sent events named "pulse", each with the shop's pulse as its data."""
    if request.method != "GET":
        return HttpResponse(status=405)
    person = await request.auser()
    if not access.may(person, Deed.SEE_SHOP):
        return HttpResponse(status=403)
    response = StreamingHttpResponse(_lines(), content_type="text/event-stream")
    # Nothing on the way may hold the stream back, neither to compress it nor to buffer it.
    response["Content-Encoding"] = "identity"
    response["X-Accel-Buffering"] = "no"
    return response


async def _lines() -> AsyncIterator[bytes]:
    yield b"retry: 3000\n\n"
    async for number in watcher().numbers():
        yield b": still here\n\n" if number is None else f"event: pulse\ndata: {number}\n\n".encode()


@require_GET
def number(request: HttpRequest) -> HttpResponse:
    """The pulse alone, for a device that cannot hold a stream open."""
    access.require(request.user, Deed.SEE_SHOP)
    return HttpResponse(str(pulse.current()), content_type="text/plain")
