"""Lines of state and lines of steps: lists, and a page for each."""

from __future__ import annotations

from copy import copy
from functools import partial

from django.http import HttpRequest, HttpResponse
from django.shortcuts import render

from shopflow.catalogue.forms.state import LineForm, StepsForm
from shopflow.catalogue.models import StateLine, StepLine
from shopflow.catalogue.selectors.set_up import work_on_lines
from shopflow.catalogue.services import state as services
from shopflow.catalogue.services.checking import contradiction

from .answers import form_page, kept, me, office, row_for, saved, sent


@office("GET", "HEAD")
def lines(request: HttpRequest) -> HttpResponse:
    """What is known of a piano's state, and the orders of steps."""
    facts = work_on_lines() | {"refused": contradiction()}
    return render(request, "catalogue/lines.html", facts)


@office("GET", "HEAD", "POST")
def line(request: HttpRequest, pk: int) -> HttpResponse:
    row = row_for(request, StateLine.objects.all(), pk=pk)
    form = LineForm(sent(request), instance=copy(row))
    change = partial(services.change_line, line=row, by=me(request))
    if kept(form, lambda: change(**form.cleaned_data)):
        return saved(request, f"“{form.cleaned_data['name']}” is kept.", "catalogue:lines")
    return form_page(request, "catalogue/line.html", form, line=row)


@office("GET", "HEAD", "POST")
def work_steps(request: HttpRequest, pk: int) -> HttpResponse:
    row = row_for(request, StepLine.objects.all(), pk=pk)
    form = StepsForm(sent(request), instance=copy(row))
    change = partial(services.change_steps, line=row, by=me(request))
    if kept(form, lambda: change(**form.cleaned_data)):
        return saved(request, f"“{form.cleaned_data['name']}” is kept.", "catalogue:lines")
    return form_page(request, "catalogue/work_steps.html", form, line=row)
