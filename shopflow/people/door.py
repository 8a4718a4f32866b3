"""The door before a page: signed in, and allowed to do what the page is for."""

from __future__ import annotations

from collections.abc import Callable
from functools import wraps
from typing import Any, cast

from django.contrib.auth.decorators import login_required
from django.http import HttpRequest, HttpResponse

from . import access
from .models import Person

View = Callable[..., HttpResponse]


def only(deed: access.Deed) -> Callable[[View], View]:
    """Before a view: strangers to the house sign in first, others without the right get 403."""

    def with_door(view: View) -> View:
        @login_required
        @wraps(view)
        def guarded(request: HttpRequest, *args: Any, **kwargs: Any) -> HttpResponse:
            access.require(request.user, deed)
            return view(request, *args, **kwargs)

        return guarded

    return with_door


def me(request: HttpRequest) -> Person:
    """Who is here; only behind a door, where it is someone."""
    return cast(Person, request.user)
