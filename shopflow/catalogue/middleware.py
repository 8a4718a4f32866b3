"""For each request: which shop this is, and its clock on the wall."""

from __future__ import annotations

from collections.abc import Callable

from django.http import HttpRequest, HttpResponse
from django.utils import timezone

from .selectors import the_shop


def in_this_shop(
    get_response: Callable[[HttpRequest], HttpResponse],
) -> Callable[[HttpRequest], HttpResponse]:
    def middleware(request: HttpRequest) -> HttpResponse:
        request.shop = the_shop()  # type: ignore[attr-defined]
        with timezone.override(request.shop.zone):  # type: ignore[attr-defined]
            return get_response(request)

    return middleware
