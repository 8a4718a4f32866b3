"""Set-up of tablets: which there are, when each was last alive, codes for new ones, an end for lost ones."""

from __future__ import annotations

from typing import Any, cast

from django.contrib import messages
from django.http import HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.views.decorators.http import require_http_methods, require_POST

from shopflow.people import tablets as services
from shopflow.people.access import Deed
from shopflow.people.door import only
from shopflow.people.edits import ChangedMeanwhile
from shopflow.people.forms.tablets import TabletForm
from shopflow.people.models import Person, Tablet
from shopflow.people.services import tablets as keeping

CODE_MINUTES = 15


@only(Deed.PEOPLE)
@require_http_methods(["GET", "HEAD", "POST"])
def tablets(request: HttpRequest) -> HttpResponse:
    """The list, and the field for one more."""
    if request.method != "POST":
        return _list(request, TabletForm())
    form = TabletForm(request.POST)
    if not form.is_valid():
        return _list(request, form, status=422)
    made = keeping.add_tablet(by=_me(request), **form.cleaned_data)
    messages.success(request, f"{made.name} is on the list. Now ask for a code and type it on the device.")
    return redirect("people:tablets")


@only(Deed.PEOPLE)
@require_http_methods(["GET", "HEAD", "POST"])
def tablet(request: HttpRequest, pk: int) -> HttpResponse:
    found = get_object_or_404(Tablet, pk=pk)
    if request.method != "POST":
        return _page(request, pk, TabletForm(instance=found))
    form = TabletForm(request.POST, instance=found)
    if not form.is_valid():
        return _page(request, pk, form, status=422)
    seen = request.POST.get("seen", "")
    try:
        keeping.change_tablet(tablet_id=pk, seen=seen, by=_me(request), **form.cleaned_data)
    except ChangedMeanwhile as clash:
        now = [form.say(name, fact) for name, fact in clash.differing().items()]
        return _page(request, pk, form, status=409, clash=clash, now=now)
    messages.success(request, f"{form.cleaned_data['name']} is changed.")
    return redirect("people:tablets")


@only(Deed.PEOPLE)
@require_POST
def code(request: HttpRequest, pk: int) -> HttpResponse:
    """The code stands on this answer and is kept nowhere."""
    found = get_object_or_404(Tablet, pk=pk)
    digits = services.code_for(tablet=found, by=_me(request), minutes=CODE_MINUTES)
    facts = {
        "found": found,
        "code": f"{digits[:4]} {digits[4:]}",
        "minutes": CODE_MINUTES,
        "where": request.build_absolute_uri("/tablet/"),
    }
    return render(request, "people/tablet_code.html", facts)


@only(Deed.PEOPLE)
@require_POST
def revoke(request: HttpRequest, pk: int) -> HttpResponse:
    found = get_object_or_404(Tablet, pk=pk)
    services.revoke(tablet=found, by=_me(request))
    messages.success(request, f"{found.name} opens nothing any more. A new code brings it back.")
    return redirect("people:tablets")


def _me(request: HttpRequest) -> Person:
    return cast(Person, request.user)


def _list(request: HttpRequest, form: TabletForm, *, status: int = 200) -> HttpResponse:
    rows = Tablet.objects.select_related("department")
    return render(request, "people/tablets.html", {"form": form, "rows": rows}, status=status)


def _page(request: HttpRequest, pk: int, form: TabletForm, *, status: int = 200, **more: Any) -> HttpResponse:
    found = Tablet.objects.get(pk=pk)
    facts = {"found": found, "form": form, "seen": keeping.version_of(found)}
    return render(request, "people/tablet_edit.html", facts | more, status=status)
