"""The customer's door: a private link is swapped for a cookie, and the cookie opens one instrument's pages.

The address with the secret is seen once, by the door; every page after it has a clean address. The cookie
names the link, is signed, and is looked up with every request: a revoked link closes every browser at once.
"""

from __future__ import annotations

import logging
from collections.abc import Callable
from datetime import timedelta
from functools import wraps
from typing import Any

from django.conf import settings
from django.core import signing
from django.http import HttpRequest, HttpResponse, HttpResponseRedirect
from django.shortcuts import render
from django.urls import reverse

from shopflow.common import clock
from shopflow.customers import guesses
from shopflow.customers.models import PrivateLink
from shopflow.customers.services import links
from shopflow.people.devices import device_of

log = logging.getLogger(__name__)

View = Callable[..., HttpResponse]
COOKIE_PATH = "/yours/"
_SALT = "private link"
# The letter with the link is the key; the cookie only saves looking for it during a day.
_GOOD_FOR = timedelta(hours=24)


def cookie_name() -> str:
    return "__Secure-yours" if settings.HTTPS else "yours"


def let_in(request: HttpRequest, token: str) -> HttpResponse:
    """Swap the secret for the cookie. Wrong, expired, revoked, mistyped: one page, one status, one way."""
    device = str(device_of(request))
    try:
        guesses.refuse_beyond(device)
    except guesses.TooManyGuesses as many:
        return nothing_here(request, status=429, minutes=many.minutes)
    link = links.by_token(token)
    if link is None:
        guesses.note_wrong(device)
        log.info("a private link that leads nowhere, from %s", device)
        return nothing_here(request)
    return hidden(_with_cookie(HttpResponseRedirect(reverse("offers:yours")), link))


def for_customer(view: View) -> View:
    """Before a customer's page: it is called with the link that let this browser in, else nobody is home."""

    @wraps(view)
    def guarded(request: HttpRequest, *args: Any, **kwargs: Any) -> HttpResponse:
        link = link_of(request)
        if link is None:
            return nothing_here(request)
        response = view(request, link, *args, **kwargs)
        response.headers.setdefault("X-Robots-Tag", "noindex, nofollow")
        response.headers["Cache-Control"] = "no-store"
        # Not “no-referrer”: browsers would then hide the origin of our own forms, and no form could be
        # told from a forged one. These addresses hold no secret, and no other site hears of them.
        response.headers["Referrer-Policy"] = "same-origin"
        return response

    return guarded


def link_of(request: HttpRequest) -> PrivateLink | None:
    """The link that this browser was let in by, while it is good."""
    try:
        pk = signing.loads(request.COOKIES.get(cookie_name(), ""), salt=_SALT, max_age=_GOOD_FOR)
    except signing.BadSignature:
        return None
    return links.by_key(pk) if isinstance(pk, int) else None


def nothing_here(request: HttpRequest, *, status: int = 404, minutes: int = 0) -> HttpResponse:
    """The same words for whatever does not open: they tell nobody which of the reasons it was."""
    response = render(request, "offers/nothing_here.html", {"minutes": minutes}, status=status)
    # Django would log the address, and the address may hold all but the last letter of a good secret.
    response._has_been_logged = True  # type: ignore[attr-defined]
    return hidden(response)


def hidden(response: HttpResponse) -> HttpResponse:
    """An answer to an address with a secret in it: kept nowhere, told to nobody."""
    response.headers["Cache-Control"] = "no-store"
    response.headers["Referrer-Policy"] = "no-referrer"
    response.headers["X-Robots-Tag"] = "noindex, nofollow"
    return response


def _with_cookie(response: HttpResponse, link: PrivateLink) -> HttpResponse:
    good_for = min(_GOOD_FOR, link.expires_at - clock.now())
    response.set_cookie(
        cookie_name(),
        signing.dumps(link.pk, salt=_SALT),
        max_age=good_for,
        path=COOKIE_PATH,
        secure=settings.HTTPS,
        httponly=True,
        # Lax: the first page is reached from a letter, that is from another site.
        samesite="Lax",
    )
    return response
