"""How the pages of the set-up let people in, and how they answer."""

from __future__ import annotations

from collections.abc import Callable
from functools import wraps
from typing import Any, cast

from django.contrib import messages
from django.contrib.auth.decorators import login_required
from django.db import transaction
from django.db.models import QuerySet
from django.http import HttpRequest, HttpResponse, QueryDict
from django.shortcuts import get_object_or_404, redirect, render
from django.views.decorators.http import require_http_methods
from django_htmx.http import trigger_client_event

from shopflow.common.htmx import wants_fragment
from shopflow.common.refusals import Refused
from shopflow.people import access
from shopflow.people.access import Deed
from shopflow.people.models import Person

View = Callable[..., HttpResponse]


def office(*methods: str) -> Callable[[View], View]:
    """Only for those who may change what the shop has."""
    return only_for(Deed.SET_UP, *methods)


def only_for(deed: Deed, *methods: str) -> Callable[[View], View]:
    """Only for those who may do this. What a POST reads and writes holds together."""

    def door(view: View) -> View:
        @require_http_methods([*methods])
        @login_required
        @wraps(view)
        def guarded(request: HttpRequest, *args: Any, **kwargs: Any) -> HttpResponse:
            access.require(request.user, deed)
            if request.method != "POST":
                return view(request, *args, **kwargs)
            with transaction.atomic():
                return view(request, *args, **kwargs)

        return guarded

    return door


def me(request: HttpRequest) -> Person:
    """Who is here; the door has let nobody in but a person."""
    return cast(Person, request.user)


def sent(request: HttpRequest) -> QueryDict | None:
    """What was sent, for a form to be bound to; None where a page is only asked for."""
    return request.POST if request.method == "POST" else None


def row_for(request: HttpRequest, rows: QuerySet[Any], **key: object) -> Any:
    """The row an address names, or 404; held for the one who changes it, so that nobody writes in between."""
    held = rows.select_for_update(of=("self",)) if request.method == "POST" else rows
    return get_object_or_404(held, **key)


def kept(form: Any, deed: Callable[[], Any]) -> Any:
    """Do the deed of a sent form and give what it gives; None for a form that has to be shown (again).

    A form that is older than its row is not kept; a refusal becomes words beside the field it is about.
    """
    if not form.is_bound or getattr(form, "moved_on", False) or not form.is_valid():
        return None
    try:
        with transaction.atomic():
            return deed()
    except Refused as refused:
        form.add_error(refused.field if refused.field in form.fields else None, refused.message)
        return None


def status_of(form: Any) -> int:
    """200 for a fresh form, 409 when someone else was quicker, 422 when what was typed cannot be."""
    if not form.is_bound:
        return 200
    return 409 if getattr(form, "moved_on", False) else 422


def form_page(request: HttpRequest, template: str, form: Any, **facts: Any) -> HttpResponse:
    return render(request, template, {"form": form, **facts}, status=status_of(form))


def saved(request: HttpRequest, words: str, then: str, *args: Any) -> HttpResponse:
    """Say it on the next page, and go there."""
    messages.success(request, words)
    return redirect(then, *args)


def deed_done(
    request: HttpRequest,
    deed: Callable[[], str],
    *,
    fragment: Callable[[str], HttpResponse],
    page: Callable[[str], HttpResponse],
    then: tuple[Any, ...],
) -> HttpResponse:
    """Answer a button of a list: the list again to htmx, else the page; 422 and why when it was refused."""
    try:
        with transaction.atomic():
            words = deed()
    except Refused as refused:
        answer = (fragment if wants_fragment(request) else page)(refused.message)
        answer.status_code = 422
        return answer
    if wants_fragment(request):
        return trigger_client_event(fragment(""), "say", {"value": words})
    return saved(request, words, *then)
