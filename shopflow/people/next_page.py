"""Where a person goes after signing in: back to the page before, if it is one of ours."""

from __future__ import annotations

from urllib.parse import urlencode

from django.conf import settings
from django.http import HttpRequest
from django.shortcuts import resolve_url
from django.urls import reverse
from django.utils.http import url_has_allowed_host_and_scheme

FIELD = "next"


def wanted(request: HttpRequest) -> str:
    """The address asked for, or nothing when it is strange, too long, or leads back to signing in."""
    address = request.POST.get(FIELD) or request.GET.get(FIELD) or ""
    ours = url_has_allowed_host_and_scheme(address, {request.get_host()}, require_https=request.is_secure())
    return address if ours and len(address) <= 2000 and not _is_a_door(address) else ""


def after(request: HttpRequest) -> str:
    return wanted(request) or resolve_url(settings.LOGIN_REDIRECT_URL)


def with_next(address: str, back: str) -> str:
    return f"{address}?{urlencode({FIELD: back})}" if back else address


def this_page(request: HttpRequest) -> str:
    """This page as a place to come back to; a page that answered a form is not one."""
    path = request.get_full_path()
    return path if request.method == "GET" and not _is_a_door(path) else ""


def _is_a_door(address: str) -> bool:
    doors = (reverse("people:sign-in"), reverse("people:switch"), reverse("people:sign-out"))
    return address.startswith(doors)
