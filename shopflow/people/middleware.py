"""For each request: the tablet it comes from, whether its person is still here, and how it signed in."""

from __future__ import annotations

from collections.abc import Callable

from django.http import HttpRequest, HttpResponse

from . import presence, tablets


def who_is_here(get_response: Callable[[HttpRequest], HttpResponse]) -> Callable[[HttpRequest], HttpResponse]:
    def middleware(request: HttpRequest) -> HttpResponse:
        tablet = request.tablet = tablets.tablet_of(request)  # type: ignore[attr-defined]
        if tablet:
            tablets.note_seen(tablet)
        if request.user.is_authenticated:
            request.user.by_pin = bool(request.session.get(presence.BY_PIN))
            presence.keep_or_end(request)
        return get_response(request)

    return middleware
