"""For each request: the tablet it comes from, whether its person is still here, and how it signed in."""

from __future__ import annotations

from collections.abc import Callable

from django.contrib import messages
from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect, resolve_url

from . import held, presence, tablets
from .models import Person

# Where one may go before a password handed out by the office is replaced.
_BEFORE_CHOOSING = ("people:me", "people:sign-in", "people:sign-out", "people:switch")
Answer = Callable[[HttpRequest], HttpResponse]


def who_is_here(get_response: Answer) -> Answer:
    def middleware(request: HttpRequest) -> HttpResponse:
        tablet = request.tablet = tablets.tablet_of(request)  # type: ignore[attr-defined]
        if tablet:
            tablets.note_seen(tablet)
        if not isinstance(request.user, Person):
            return get_response(request)
        person = request.user
        person.by_pin = bool(request.session.get(presence.BY_PIN))
        if presence.goes_on(request):
            kept = held.any_in(request) if request.method == "POST" else None
            return _let_go_when_taken(request, get_response(request), kept)
        presence.end(request)
        request.was_here = person  # type: ignore[attr-defined]
        return _hold_when_turned_away(request, get_response(request), person)

    return middleware


def _hold_when_turned_away(request: HttpRequest, response: HttpResponse, person: Person) -> HttpResponse:
    """Led to the sign-in page with a form in the hand: the form waits."""
    there = response.headers.get("Location") or response.headers.get("HX-Redirect") or ""
    if there.startswith(resolve_url("people:sign-in")):
        held.hold(request, of=person)
    return response


def _let_go_when_taken(request: HttpRequest, response: HttpResponse, kept: held.Held | None) -> HttpResponse:
    """What was held is sent at last, unless this very request made it wait once more."""
    if kept and kept.url == request.path and response.status_code < 400 and held.any_in(request) == kept:
        held.let_go(request)
    return response


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
