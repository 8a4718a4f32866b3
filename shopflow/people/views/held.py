"""What was sent too late: offered once more to the one who typed it."""

from __future__ import annotations

from typing import cast

from django.contrib.auth.decorators import login_required
from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.urls import reverse
from django.views.decorators.http import require_POST, require_safe
from django_htmx.http import HttpResponseClientRedirect

from shopflow.common import views as common
from shopflow.people import held
from shopflow.people.models import Person


@login_required
@require_safe
def not_sent_yet(request: HttpRequest) -> HttpResponse:
    kept = held.waiting_for(request, cast(Person, request.user))
    if kept is None:
        return redirect("/")
    return render(request, "people/not_sent_yet.html", {"kept": kept})


@login_required
@require_POST
def throw_away(request: HttpRequest) -> HttpResponse:
    kept = held.waiting_for(request, cast(Person, request.user))
    held.let_go(request)
    return redirect(kept.back if kept else "/")


def page_too_old(request: HttpRequest, reason: str = "") -> HttpResponse:
    """A form of our own whose proof of origin has run out is offered again; any other is only refused."""
    person = request.user if isinstance(request.user, Person) else getattr(request, "was_here", None)
    if not (person and _sent_by_our_page(request) and held.hold(request, of=person)):
        return common.page_too_old(request, reason)
    there = reverse("people:not-sent-yet")
    return HttpResponseClientRedirect(there) if getattr(request, "htmx", False) else redirect(there)


def _sent_by_our_page(request: HttpRequest) -> bool:
    """The browser itself names the page's origin; without that name, or with another, nothing is offered."""
    return request.headers.get("Origin", "") == f"{request.scheme}://{request.get_host()}"
