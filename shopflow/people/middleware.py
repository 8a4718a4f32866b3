"""For each request: the tablet it comes from, and how its person signed in."""

from __future__ import annotations

from collections.abc import Callable

from django.http import HttpRequest, HttpResponse

from . import tablets


def who_is_here(get_response: Callable[[HttpRequest], HttpResponse]) -> Callable[[HttpRequest], HttpResponse]:
    def middleware(request: HttpRequest) -> HttpResponse:
        request.tablet = tablets.tablet_of(request)  # type: ignore[attr-defined]
        if request.user.is_authenticated:
            request.user.by_pin = bool(request.session.get("by_pin"))  # type: ignore[union-attr]
        return get_response(request)

    return middleware
