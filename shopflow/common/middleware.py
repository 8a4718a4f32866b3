"""Two small habits of every answer: the headers that keep a page safe, and good manners toward htmx."""

from __future__ import annotations

from collections.abc import Callable

from django.contrib.auth.views import redirect_to_login
from django.http import HttpRequest, HttpResponse
from django.shortcuts import resolve_url
from django.utils.cache import patch_vary_headers
from django_htmx.http import HttpResponseClientRedirect

from .htmx import own_path

Answer = Callable[[HttpRequest], HttpResponse]

CONTENT_SECURITY_POLICY = "; ".join(
    [
        "default-src 'self'",
        "script-src 'self'",
        "style-src 'self'",
        "img-src 'self' data: blob:",
        "object-src 'none'",
        "base-uri 'none'",
        "form-action 'self'",
        "frame-ancestors 'none'",
    ]
)


def security_headers(get_response: Answer) -> Answer:
    """Only the shop's own scripts, styles and pictures; nothing of a signed-in page is kept by a browser."""

    def middleware(request: HttpRequest) -> HttpResponse:
        response = get_response(request)
        response.headers.setdefault("Content-Security-Policy", CONTENT_SECURITY_POLICY)
        response.headers.setdefault("Permissions-Policy", "camera=(self), geolocation=(), microphone=()")
        response.headers.setdefault("Cache-Control", "no-store")
        return response

    return middleware


def htmx_manners(get_response: Answer) -> Answer:
    """A sign-in page must fill the window, never a fragment; and caches must tell pages from fragments."""

    def middleware(request: HttpRequest) -> HttpResponse:
        response = get_response(request)
        patch_vary_headers(response, ["HX-Request"])
        if not getattr(request, "htmx", False) or response.status_code != 302:
            return response
        location = response.headers.get("Location", "")
        sign_in = resolve_url("people:sign-in")
        if not location.startswith(sign_in):
            return response
        back = own_path(request.htmx.current_url or "", request) or "/"  # type: ignore[attr-defined]
        return HttpResponseClientRedirect(redirect_to_login(back, sign_in).url)

    return middleware
