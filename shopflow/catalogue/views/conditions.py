"""The library: kinds of finding by component group, and a page for each with its remedies."""

from __future__ import annotations

from copy import copy
from functools import partial

from django.http import HttpRequest, HttpResponse
from django.shortcuts import render

from shopflow.catalogue.forms.conditions import FindingKindForm, RemedyForm
from shopflow.catalogue.models import FindingKind, Remedy
from shopflow.catalogue.selectors.set_up import finding_kinds_by_group, remedies_of
from shopflow.catalogue.services import conditions as services

from .answers import deed_done, form_page, kept, me, office, row_for, saved, sent
from .buttons import press

_KINDS = FindingKind.objects.select_related("group")
_REMEDIES = Remedy.objects.select_related("finding_kind")


@office("GET", "HEAD")
def findings(request: HttpRequest) -> HttpResponse:
    return render(request, "catalogue/findings.html", {"groups": finding_kinds_by_group()})


@office("GET", "HEAD", "POST")
def new_finding(request: HttpRequest) -> HttpResponse:
    form = FindingKindForm(sent(request))
    made = kept(form, lambda: services.add_finding_kind(**form.cleaned_data, by=me(request)))
    if made:
        words = f"“{made.name}” is there. Now say what mends it."
        return saved(request, words, "catalogue:finding", made.code)
    return form_page(request, "catalogue/finding.html", form)


@office("GET", "HEAD", "POST")
def finding(request: HttpRequest, code: str) -> HttpResponse:
    row = row_for(request, _KINDS, code=code)
    form = FindingKindForm(sent(request), instance=copy(row))
    change = partial(services.change_finding_kind, finding_kind=row, by=me(request))
    if kept(form, lambda: change(**form.cleaned_data)):
        return saved(request, f"“{row.name}” is kept.", "catalogue:finding", code)
    return _kind_page(request, row, form=form)


@office("POST")
def finding_button(request: HttpRequest, code: str, button: str) -> HttpResponse:
    row = row_for(request, _KINDS, code=code)
    page = partial(_kind_page, request, row)
    return deed_done(
        request,
        lambda: press(
            request,
            button,
            label=row.name,
            retire=partial(services.retire_finding_kind, finding_kind=row),
            bring_back=partial(services.bring_back_finding_kind, finding_kind=row),
        ),
        fragment=page,
        page=page,
        then=("catalogue:finding", code),
    )


@office("GET", "HEAD", "POST")
def new_remedy(request: HttpRequest, code: str) -> HttpResponse:
    kind = row_for(request, _KINDS, code=code)
    form = RemedyForm(sent(request))
    add = partial(services.add_remedy, finding_kind=kind, by=me(request))
    made = kept(form, lambda: add(**form.cleaned_data))
    if made:
        return saved(request, f"“{made.name}” is there.", "catalogue:finding", code)
    return form_page(request, "catalogue/remedy.html", form, finding_kind=kind)


@office("GET", "HEAD", "POST")
def remedy(request: HttpRequest, code: str) -> HttpResponse:
    row = row_for(request, _REMEDIES, code=code)
    form = RemedyForm(sent(request), instance=copy(row))
    change = partial(services.change_remedy, remedy=row, by=me(request))
    if kept(form, lambda: change(**form.cleaned_data)):
        return saved(request, f"“{row.name}” is kept.", "catalogue:finding", row.finding_kind.code)
    return form_page(request, "catalogue/remedy.html", form, finding_kind=row.finding_kind, remedy=row)


@office("POST")
def remedy_button(request: HttpRequest, code: str, button: str) -> HttpResponse:
    row = row_for(request, _REMEDIES, code=code)
    kind = row.finding_kind
    return deed_done(
        request,
        lambda: press(
            request,
            button,
            label=row.name,
            move=partial(services.move_remedy, remedy=row),
            retire=partial(services.retire_remedy, remedy=row),
            bring_back=partial(services.bring_back_remedy, remedy=row),
        ),
        fragment=lambda refused: _remedies(request, kind, refused),
        page=lambda refused: _kind_page(request, kind, refused),
        then=("catalogue:finding", kind.code),
    )


def _remedies(request: HttpRequest, kind: FindingKind, refused: str) -> HttpResponse:
    facts = {"finding_kind": kind, "listed": remedies_of(kind), "refused": refused}
    return render(request, "catalogue/_remedies.html", facts)


def _kind_page(
    request: HttpRequest, kind: FindingKind, refused: str = "", *, form: FindingKindForm | None = None
) -> HttpResponse:
    form = form or FindingKindForm(instance=copy(kind))
    facts = {"finding_kind": kind, "listed": remedies_of(kind), "refused": refused}
    return form_page(request, "catalogue/finding.html", form, **facts)
