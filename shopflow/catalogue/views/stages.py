"""A department's page with its stages, and the page of a single stage."""

from __future__ import annotations

from copy import copy
from functools import partial
from typing import Any

from django.http import HttpRequest, HttpResponse
from django.shortcuts import render

from shopflow.catalogue.forms.departments import DepartmentForm, NewStageForm, StageForm
from shopflow.catalogue.models import Department, Stage
from shopflow.catalogue.selectors.set_up import stages_with_work
from shopflow.catalogue.services import stages as services

from .answers import deed_done, form_page, kept, me, office, row_for, saved, sent, status_of
from .buttons import press


def department_page(
    request: HttpRequest, department: Department, refused: str = "", *, form: DepartmentForm | None = None
) -> HttpResponse:
    form = form or DepartmentForm(instance=copy(department))
    facts = _stages(department, refused) | {"form": form}
    return render(request, "catalogue/department.html", facts, status=status_of(form))


@office("GET", "HEAD", "POST")
def new_stage(request: HttpRequest, code: str) -> HttpResponse:
    department = row_for(request, Department.objects.all(), code=code)
    form = NewStageForm(sent(request))
    add = partial(services.add_stage, department=department, by=me(request))
    made = kept(form, lambda: add(**form.cleaned_data))
    if made:
        return saved(request, f"“{made.name}” is there.", "catalogue:department", code)
    return form_page(request, "catalogue/new_stage.html", form, department=department)


@office("GET", "HEAD", "POST")
def stage(request: HttpRequest, pk: int) -> HttpResponse:
    row = row_for(request, Stage.objects.select_related("department"), pk=pk)
    form = StageForm(sent(request), instance=copy(row))
    change = partial(services.change_stage, stage=row, by=me(request))
    if kept(form, lambda: change(**form.cleaned_data)):
        return saved(request, f"“{row.name}” is kept.", "catalogue:department", row.department.code)
    facts = {"stage": row, "department": row.department}
    return form_page(request, "catalogue/stage.html", form, **facts)


@office("POST")
def stage_button(request: HttpRequest, pk: int, button: str) -> HttpResponse:
    row = row_for(request, Stage.objects.select_related("department"), pk=pk)
    return deed_done(
        request,
        lambda: press(
            request,
            button,
            label=row.name,
            move=partial(services.move_stage, stage=row),
            retire=partial(services.retire_stage, stage=row),
            bring_back=partial(services.bring_back_stage, stage=row),
        ),
        fragment=lambda refused: render(request, "catalogue/_stages.html", _stages(row.department, refused)),
        page=partial(department_page, request, row.department),
        then=("catalogue:department", row.department.code),
    )


def _stages(department: Department, refused: str) -> dict[str, Any]:
    return {"department": department, "listed": stages_with_work(department), "refused": refused}
