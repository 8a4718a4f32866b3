from __future__ import annotations

from copy import copy
from functools import partial

from django.http import HttpRequest, HttpResponse
from django.shortcuts import render

from shopflow.catalogue.forms.departments import DepartmentForm
from shopflow.catalogue.models import Department
from shopflow.catalogue.selectors.set_up import departments_with_work
from shopflow.catalogue.services import departments as services

from .answers import deed_done, form_page, kept, me, office, row_for, saved, sent
from .buttons import press
from .stages import department_page


@office("GET", "HEAD")
def departments(request: HttpRequest) -> HttpResponse:
    return _list(request, "catalogue/departments.html")


@office("GET", "HEAD", "POST")
def new_department(request: HttpRequest) -> HttpResponse:
    form = DepartmentForm(sent(request))
    made = kept(form, lambda: services.add_department(**form.cleaned_data, by=me(request)))
    if made:
        return saved(
            request, f"“{made.name}” is there. Now give it stages.", "catalogue:department", made.code
        )
    return form_page(request, "catalogue/new_department.html", form)


@office("GET", "HEAD", "POST")
def department(request: HttpRequest, code: str) -> HttpResponse:
    row = row_for(request, Department.objects.all(), code=code)
    form = DepartmentForm(sent(request), instance=copy(row))
    change = partial(services.change_department, department=row, by=me(request))
    if kept(form, lambda: change(**form.cleaned_data)):
        return saved(request, f"“{row.name}” is kept.", "catalogue:department", code)
    return department_page(request, row, form=form)


@office("POST")
def department_button(request: HttpRequest, code: str, button: str) -> HttpResponse:
    row = row_for(request, Department.objects.all(), code=code)
    return deed_done(
        request,
        lambda: press(
            request,
            button,
            label=row.name,
            move=partial(services.move_department, department=row),
            retire=partial(services.retire_department, department=row),
            bring_back=partial(services.bring_back_department, department=row),
        ),
        fragment=partial(_list, request, "catalogue/_departments.html"),
        page=partial(_list, request, "catalogue/departments.html"),
        then=("catalogue:departments",),
    )


def _list(request: HttpRequest, template: str, refused: str = "") -> HttpResponse:
    return render(request, template, {"listed": departments_with_work(), "refused": refused})
