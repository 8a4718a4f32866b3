"""What work waits for: parts on order, and instruments that are held back."""

from __future__ import annotations

from collections.abc import Callable
from copy import copy
from functools import partial
from typing import Any

from django.http import Http404, HttpRequest, HttpResponse, QueryDict
from django.shortcuts import render
from django.urls import reverse

from shopflow.catalogue.views.answers import form_page, kept, me, only_for, row_for, saved, sent, status_of
from shopflow.common import clock
from shopflow.people.access import Deed
from shopflow.planning.forms.things import FindForm, HoldForm, NewPartForm, PartForm
from shopflow.planning.measures import HoldBack
from shopflow.planning.models import Hold, PartOnOrder
from shopflow.planning.services import drafts
from shopflow.planning.services import waiting as services

from .crew import UNKNOWN_TO_THE_PLAN


@only_for(Deed.PLAN, "GET", "HEAD")
def waiting(request: HttpRequest) -> HttpResponse:
    """Parts on order, the nearest first; with ?number= a form for one more."""
    find = FindForm(request.GET) if "number" in request.GET else FindForm()
    return _page(request, find=find, part=_part_form(find))


@only_for(Deed.PLAN, "POST")
def add_part(request: HttpRequest) -> HttpResponse:
    find = FindForm(request.POST)
    form = _part_form(find, request.POST)
    if form is None:
        return _page(request, find=find)
    made = kept(form, lambda: services.order_part(**form.cleaned_data, by=me(request)))
    if made:
        words = f"{made.task} waits for {made.what} until {made.expected_on:%-d %b}. {UNKNOWN_TO_THE_PLAN}"
        return saved(request, words, "planning:parts")
    return _page(request, find=find, part=form)


@only_for(Deed.PLAN, "GET", "HEAD", "POST")
def part(request: HttpRequest, pk: int) -> HttpResponse:
    row = _open_part(request, pk)
    form = PartForm(sent(request), instance=copy(row))
    change = partial(services.change_part, part=row, by=me(request))
    if kept(form, lambda: change(**form.cleaned_data)):
        return saved(request, f"“{row.what}” is kept. {UNKNOWN_TO_THE_PLAN}", "planning:parts")
    return form_page(request, "planning/part.html", form, part=row)


@only_for(Deed.PLAN, "POST")
def part_button(request: HttpRequest, pk: int, button: str) -> HttpResponse:
    deeds: dict[str, tuple[Callable[..., None], str]] = {
        "arrived": (services.part_arrived, "is here"),
        "forget": (services.forget_part, "is off the list"),
    }
    if button not in deeds:
        raise Http404
    row = _open_part(request, pk)
    deed, words = deeds[button]
    deed(part=row, by=me(request))
    return saved(request, f"“{row.what}” {words}. {UNKNOWN_TO_THE_PLAN}", "planning:parts")


@only_for(Deed.PLAN, "POST")
def hold(request: HttpRequest) -> HttpResponse:
    form = HoldForm(request.POST)
    if "paper" in request.POST:
        return _hold_on_paper(request, form)
    made = kept(form, lambda: services.hold_back(**_held(form), by=me(request)))
    if made:
        words = f"Nothing new of {made.instrument} before {made.until:%-d %b}. {UNKNOWN_TO_THE_PLAN}"
        return saved(request, words, "planning:parts")
    return _page(request, hold=form)


def _hold_on_paper(request: HttpRequest, form: HoldForm) -> HttpResponse:
    def deed() -> Any:
        one = HoldBack(form.cleaned_data["number"].pk, form.cleaned_data["until"])
        return drafts.try_on_paper(measures=[one], by=me(request))

    if kept(form, deed):
        return saved(request, drafts.BEING_MADE, "planning:balance")
    return _page(request, hold=form)


@only_for(Deed.PLAN, "POST")
def let_go(request: HttpRequest, pk: int) -> HttpResponse:
    row = row_for(request, Hold.objects.select_related("instrument"), pk=pk)
    services.let_go_on(hold=row, by=me(request))
    return saved(request, f"{row.instrument} goes on. {UNKNOWN_TO_THE_PLAN}", "planning:parts")


def _open_part(request: HttpRequest, pk: int) -> Any:
    return row_for(
        request, PartOnOrder.objects.filter(arrived_on=None).select_related("task__instrument"), pk=pk
    )


def _held(form: HoldForm) -> dict[str, Any]:
    given = dict(form.cleaned_data)
    return {"instrument": given.pop("number"), **given}


def _part_form(find: FindForm, typed: QueryDict | None = None) -> NewPartForm | None:
    """The form for a part, once it is known for which instrument."""
    if not find.is_bound or not find.is_valid():
        return None
    initial = {"ordered_on": clock.today()}
    return NewPartForm(typed, instrument=find.cleaned_data["number"], initial=initial)


def _page(
    request: HttpRequest,
    *,
    find: FindForm | None = None,
    part: NewPartForm | None = None,
    hold: HoldForm | None = None,
) -> HttpResponse:
    parts = PartOnOrder.objects.filter(arrived_on=None)
    facts = {
        "parts": parts.select_related("task__instrument", "task__department"),
        "holds": Hold.objects.select_related("instrument").order_by("until", "pk"),
        "find": find or FindForm(),
        "part_form": part,
        "hold_form": hold or HoldForm(auto_id="hold_%s"),
        "here": reverse("planning:parts"),
        "today": clock.today(),
    }
    shown = [form for form in (part, hold) if form is not None]
    wrong = find is not None and find.is_bound and not find.is_valid()
    status = 422 if wrong else max([200, *(status_of(form) for form in shown)])
    return render(request, "planning/waiting.html", facts, status=status)
