"""For each request: the tablet it comes from, whether its person is still here, and how it signed in."""

from __future__ import annotations

from collections.abc import Callable

from django.contrib import messages
from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect, resolve_url

from . import presence, tablets

# Where one may go before a password handed out by the office is replaced.
_BEFORE_CHOOSING = ("people:me", "people:sign-in", "people:sign-out", "people:switch")
Answer = Callable[[HttpRequest], HttpResponse]


def who_is_here(get_response: Answer) -> Answer:
    def middleware(request: HttpRequest) -> HttpResponse:
        tablet = request.tablet = tablets.tablet_of(request)  # type: ignore[attr-defined]
        if tablet:
            tablets.note_seen(tablet)
        if request.user.is_authenticated:
            request.user.by_pin = bool(request.session.get(presence.BY_PIN))
            presence.keep_or_end(request)
        return get_response(request)

    return middleware


def own_password_first(get_response: Answer) -> Answer:
    """A password that someone else has seen opens one page only: the one on which to choose another."""

    def middleware(request: HttpRequest) -> HttpResponse:
        person = request.user
        if not getattr(person, "password_handed_out", False) or person.by_pin:  # type: ignore[union-attr]
            return get_response(request)
        if request.path.startswith(tuple(resolve_url(name) for name in _BEFORE_CHOOSING)):
            return get_response(request)
        messages.info(request, "This password was handed out to you: choose one of your own, then go on.")
        return redirect("people:me")

    return middleware
