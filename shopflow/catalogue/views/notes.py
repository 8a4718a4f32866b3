"""Cautions and rests: lists, and a page for each."""

from __future__ import annotations

from copy import copy
from functools import partial
from typing import Any

from django.http import HttpRequest, HttpResponse
from django.shortcuts import render

from shopflow.catalogue.forms.notes import CautionForm, RestForm
from shopflow.catalogue.models import Caution, Rest
from shopflow.catalogue.selectors.set_up import cautions_with_work, rests_with_work
from shopflow.catalogue.services import cautions as caution_services
from shopflow.catalogue.services import rests as rest_services

from .answers import form_page, kept, me, office, row_for, saved, sent


@office("GET", "HEAD")
def cautions(request: HttpRequest) -> HttpResponse:
    return render(request, "catalogue/cautions.html", {"cautions": cautions_with_work()})


@office("GET", "HEAD", "POST")
def new_caution(request: HttpRequest) -> HttpResponse:
    form = CautionForm(sent(request))
    made = kept(form, lambda: caution_services.add_caution(**form.cleaned_data, by=me(request)))
    if made:
        words = f"“{made.title}” is there. Tie it to operations on their pages."
        return saved(request, words, "catalogue:cautions")
    return _caution_page(request, form)


@office("GET", "HEAD", "POST")
def caution(request: HttpRequest, code: str) -> HttpResponse:
    row = row_for(request, Caution.objects.all(), code=code)
    form = CautionForm(sent(request), instance=copy(row))
    change = partial(caution_services.change_caution, caution=row, by=me(request))
    if kept(form, lambda: change(**form.cleaned_data)):
        return saved(request, f"“{row.title}” is kept.", "catalogue:cautions")
    return _caution_page(request, form, caution=row)


@office("GET", "HEAD")
def rests(request: HttpRequest) -> HttpResponse:
    return render(request, "catalogue/rests.html", {"rests": rests_with_work()})


@office("GET", "HEAD", "POST")
def new_rest(request: HttpRequest) -> HttpResponse:
    form = RestForm(sent(request))
    made = kept(form, lambda: rest_services.add_rest(**_given(form), by=me(request)))
    if made:
        return saved(request, f"“{made.name}” is there.", "catalogue:rests")
    return form_page(request, "catalogue/rest.html", form)


@office("GET", "HEAD", "POST")
def rest(request: HttpRequest, code: str) -> HttpResponse:
    row = row_for(request, Rest.objects.all(), code=code)
    form = RestForm(sent(request), instance=copy(row))
    change = partial(rest_services.change_rest, rest=row, by=me(request))
    if kept(form, lambda: change(**_given(form))):
        return saved(request, f"“{row.name}” is kept.", "catalogue:rests")
    return form_page(request, "catalogue/rest.html", form, rest=row)


def _caution_page(request: HttpRequest, form: CautionForm, **facts: object) -> HttpResponse:
    return form_page(request, "catalogue/caution.html", form, defers=caution_services.DEFERS, **facts)


def _given(form: RestForm) -> dict[str, Any]:
    return {"name": form.cleaned_data["name"], "hours": form.hours, "basis": form.cleaned_data["basis"]}
