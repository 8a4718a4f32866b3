"""What the shop charges, its terms, its materials, and what counts."""

from __future__ import annotations

from copy import copy
from functools import partial

from django.http import HttpRequest, HttpResponse
from django.shortcuts import render

from shopflow.catalogue.forms.money import BandForm, TermsForm, WeightsForm
from shopflow.catalogue.models import MaterialBand, Terms
from shopflow.catalogue.selectors.set_up import bands_with_work
from shopflow.catalogue.services import money as services

from .answers import form_page, kept, me, office, row_for, saved, sent


@office("GET", "HEAD", "POST")
def terms(request: HttpRequest) -> HttpResponse:
    form = TermsForm(sent(request), instance=_terms())
    if kept(form, lambda: services.change_terms(**form.cleaned_data, by=me(request))):
        return saved(request, "The terms are kept.", "catalogue:terms")
    return form_page(request, "catalogue/terms.html", form)


@office("GET", "HEAD", "POST")
def what_counts(request: HttpRequest) -> HttpResponse:
    form = WeightsForm(sent(request), instance=_terms())
    if kept(form, lambda: services.change_weights(**form.cleaned_data, by=me(request))):
        return saved(request, "That is what counts from now on.", "catalogue:what-counts")
    return form_page(request, "catalogue/what_counts.html", form)


@office("GET", "HEAD")
def materials(request: HttpRequest) -> HttpResponse:
    return render(request, "catalogue/materials.html", {"bands": bands_with_work(), "terms": _terms()})


@office("GET", "HEAD", "POST")
def material(request: HttpRequest, code: str) -> HttpResponse:
    row = row_for(request, MaterialBand.objects.all(), code=code)
    form = BandForm(sent(request), instance=copy(row))
    change = partial(services.change_band, band=row, by=me(request))
    if kept(form, lambda: change(figures=form.figures, basis=form.cleaned_data["basis"])):
        return saved(request, f"{row.code} is kept.", "catalogue:materials")
    return form_page(request, "catalogue/material.html", form, band=row)


def _terms() -> Terms:
    """The shop's own; before it wrote any, the usual ones."""
    return Terms.objects.filter(pk=1).first() or Terms(pk=1)
