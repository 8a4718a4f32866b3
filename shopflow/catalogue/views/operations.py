from __future__ import annotations

from copy import copy
from functools import partial
from typing import Any

from django.core.paginator import Paginator
from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect, render

from shopflow.catalogue.forms.operations import OperationForm
from shopflow.catalogue.forms.state import StateForm
from shopflow.catalogue.models import Department, Operation
from shopflow.catalogue.selectors.set_up import Asked, operations_like
from shopflow.catalogue.selectors.way import way_of
from shopflow.catalogue.services import operations as services
from shopflow.catalogue.services.state import change_state
from shopflow.common.htmx import wants_fragment

from .answers import deed_done, form_page, kept, me, office, row_for, saved, sent
from .buttons import press

A_PAGE = 60
_OPERATIONS = Operation.objects.select_related("department")


@office("GET", "HEAD")
def operations(request: HttpRequest) -> HttpResponse:
    """By department, with a search; htmx asks for the list alone."""
    asked = Asked(
        words=request.GET.get("search", "").replace("\0", "").strip()[:60],
        department=request.GET.get("department", "").replace("\0", "")[:30],
        retired=request.GET.get("show") == "retired",
    )
    page = Paginator(operations_like(asked), A_PAGE).get_page(request.GET.get("page"))
    facts = {"asked": asked, "page": page, "departments": Department.objects.all()}
    template = "catalogue/_operations.html" if wants_fragment(request) else "catalogue/operations.html"
    return render(request, template, facts)


@office("GET", "HEAD", "POST")
def new_operation(request: HttpRequest, code: str) -> HttpResponse:
    """A new operation of this department; its way is from the rack to signed until more is chosen."""
    department = row_for(request, Department.objects.in_use(), code=code)
    ends = department.stages.in_use().filter(kind__in=["racked", "signed"])
    form = OperationForm(sent(request), department=department, initial={"stages": list(ends)})
    add = partial(services.add_operation, department=department, by=me(request))
    made = kept(form, lambda: add(**_given(form)))
    if made:
        words = f"“{made.name}” is there. Now say what it needs and what it leaves."
        return saved(request, words, "catalogue:operation-state", made.code)
    return form_page(request, "catalogue/operation.html", form, department=department)


@office("GET", "HEAD", "POST")
def operation(request: HttpRequest, code: str) -> HttpResponse:
    row = row_for(request, _OPERATIONS, code=code)
    form = OperationForm(sent(request), instance=copy(row), department=row.department)
    change = partial(services.change_operation, operation=row, by=me(request))
    if kept(form, lambda: change(**_given(form))):
        return saved(request, f"“{form.cleaned_data['name']}” is kept.", "catalogue:operation", code)
    return _page(request, row, form=form)


@office("POST")
def operation_button(request: HttpRequest, code: str, button: str) -> HttpResponse:
    row = row_for(request, _OPERATIONS, code=code)
    return deed_done(
        request,
        lambda: press(
            request,
            button,
            label=row.name,
            retire=partial(services.retire_operation, operation=row),
            bring_back=partial(services.bring_back_operation, operation=row),
        ),
        fragment=lambda refused: redirect("catalogue:operation", code),
        page=partial(_page, request, row),
        then=("catalogue:operation", code),
    )


def _given(form: OperationForm) -> dict[str, Any]:
    return {
        "words": form.words,
        "upright": form.hours("upright"),
        "grand": form.hours("grand"),
        "ties": form.ties,
    }


def _page(
    request: HttpRequest, row: Operation, refused: str = "", *, form: OperationForm | None = None
) -> HttpResponse:
    form = form or OperationForm(instance=copy(row), department=row.department)
    facts = {"operation": row, "department": row.department, "refused": refused, "way": way_of(row)}
    return form_page(request, "catalogue/operation.html", form, **facts)


@office("GET", "HEAD", "POST")
def operation_state(request: HttpRequest, code: str) -> HttpResponse:
    """What it holds, needs, opens and leaves, with a picture of its way."""
    row = row_for(request, _OPERATIONS, code=code)
    form = StateForm(sent(request), operation=row)

    def deed() -> Operation:
        anyway = form.cleaned_data["anyway"]
        return change_state(operation=row, state=form.state, anyway=anyway, by=me(request))

    if kept(form, deed):
        return saved(request, f"“{row.name}” is kept, and all routes agree.", "catalogue:operation", code)
    asks = form.is_bound and "anyway" in form.errors
    facts = {"operation": row, "department": row.department, "asks": asks, "way": way_of(row)}
    return form_page(request, "catalogue/operation_state.html", form, **facts)
