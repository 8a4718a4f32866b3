"""What htmx pages of this shop have in common."""

from __future__ import annotations

from collections.abc import Callable
from functools import wraps
from typing import Any
from urllib.parse import urlsplit

from django.http import HttpRequest, HttpResponse

from . import clock, pulse

KNOWN = "X-Pulse"


def wants_fragment(request: HttpRequest) -> bool:
    """Whether a piece of the page is asked for: by htmx, and by neither a boosted link nor a step back."""
    htmx = request.htmx  # type: ignore[attr-defined]
    return bool(htmx) and not htmx.boosted and not htmx.history_restore_request


def wants_json(request: HttpRequest) -> bool:
    """Whether a tablet's outbox asks, which wants a few words to show and no page."""
    return request.headers.get("Accept", "").startswith("application/json")


def own_path(address: str, request: HttpRequest) -> str:
    """Path and query of an address that a browser names; empty for a strange or an unreadable one."""
    try:
        split = urlsplit(address)
    except ValueError:
        return ""
    ours = split.netloc == request.get_host() and split.path.startswith("/") and split.path[:2] != "//"
    return split._replace(scheme="", netloc="", fragment="").geturl() if ours else ""


def pulse_mark() -> str:
    """What a fragment remembers of the shop when it was drawn: the pulse, the day, ten minutes of it.

    A rest ends and a promise passes by the clock alone, without anybody's deed.
    """
    return f"{pulse.current()}.{clock.today():%Y%m%d}.{clock.now().timestamp() // 600:.0f}"


def only_when_changed(view: Callable[..., HttpResponse]) -> Callable[..., HttpResponse]:
    """Answer 204, at the price of one small query, when a poll knows the present pulse already.

    The view finds the mark that its fragment has to carry in `request.pulse_mark`; it is read before the
    view reads anything else, so that a change in between is fetched by the next poll and never missed.
    """

    @wraps(view)
    def wrapped(request: HttpRequest, *args: Any, **kwargs: Any) -> HttpResponse:
        mark = pulse_mark()
        if wants_fragment(request) and request.headers.get(KNOWN) == mark:
            return HttpResponse(status=204)
        request.pulse_mark = mark  # type: ignore[attr-defined]
        return view(request, *args, **kwargs)

    return wrapped
