"""For each request: the shop's clock, the tablet it comes from, and how its person signed in."""

from __future__ import annotations

from collections.abc import Callable

from django.http import HttpRequest, HttpResponse
from django.utils import timezone

from shopflow.catalogue.selectors import the_shop

from . import tablets


def who_is_here(get_response: Callable[[HttpRequest], HttpResponse]) -> Callable[[HttpRequest], HttpResponse]:
    def middleware(request: HttpRequest) -> HttpResponse:
        request.tablet = tablets.tablet_of(request)  # type: ignore[attr-defined]
        if request.user.is_authenticated:
            request.user.by_pin = bool(request.session.get("by_pin"))  # type: ignore[union-attr]
        with timezone.override(the_shop().zone):
            return get_response(request)

    return middleware
