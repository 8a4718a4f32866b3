from __future__ import annotations

from collections.abc import Callable
from copy import copy
from functools import partial
from typing import Any

from django.http import Http404, HttpRequest, HttpResponse
from django.shortcuts import render

from shopflow.catalogue.forms.routes import RouteForm, StepForm
from shopflow.catalogue.models import Route, RouteStep
from shopflow.catalogue.selectors.set_up import can_join, route_sheet, routes_with_hours
from shopflow.catalogue.services import routes as services
from shopflow.common.refusals import Refused

from .answers import deed_done, form_page, kept, me, office, row_for, saved, sent, status_of
from .buttons import places, press


@office("GET", "HEAD")
def routes(request: HttpRequest) -> HttpResponse:
    return render(request, "catalogue/routes.html", {"sheets": routes_with_hours()})


@office("GET", "HEAD", "POST")
def new_route(request: HttpRequest) -> HttpResponse:
    form = RouteForm(sent(request))
    made = kept(form, lambda: services.add_route(**_given(form), by=me(request)))
    if made:
        return saved(request, f"“{made.name}” is there. Now add operations.", "catalogue:route", made.code)
    return form_page(request, "catalogue/new_route.html", form)


@office("GET", "HEAD", "POST")
def route(request: HttpRequest, code: str) -> HttpResponse:
    row = row_for(request, Route.objects.all(), code=code)
    form = RouteForm(sent(request), instance=copy(row))
    change = partial(services.change_route, route=row, by=me(request))
    if kept(form, lambda: change(**_given(form))):
        return saved(request, f"“{row.name}” is kept.", "catalogue:route", code)
    return _page(request, row, form=form)


@office("POST")
def route_button(request: HttpRequest, code: str, button: str) -> HttpResponse:
    row = row_for(request, Route.objects.all(), code=code)
    return _answer(
        request,
        row,
        lambda: press(
            request,
            button,
            label=row.name,
            retire=partial(services.retire_route, route=row),
            bring_back=partial(services.bring_back_route, route=row),
        ),
    )


@office("POST")
def new_step(request: HttpRequest, code: str) -> HttpResponse:
    row = row_for(request, Route.objects.all(), code=code)
    return _answer(request, row, lambda: _add(request, row))


@office("POST")
def step_button(request: HttpRequest, pk: int, button: str) -> HttpResponse:
    step = row_for(request, RouteStep.objects.select_related("route", "operation"), pk=pk)
    if button not in {"move", "drop"}:
        raise Http404
    return _answer(request, step.route, lambda: _press_step(request, step, button))


def _add(request: HttpRequest, route: Route) -> str:
    form = StepForm(request.POST)
    if not form.is_valid():
        raise Refused("Choose an operation from the list; this one is not there (any more).")
    operation = form.cleaned_data["operation"]
    services.add_step(route=route, operation=operation, by=me(request))
    return f"“{operation.name}” is on the route, at its end."


def _press_step(request: HttpRequest, step: RouteStep, button: str) -> str:
    if button == "move":
        services.move_step(step=step, places=places(request), by=me(request))
        return f"“{step.operation.name}” has moved."
    services.drop_step(step=step, by=me(request))
    return f"“{step.operation.name}” is off the route."


def _answer(request: HttpRequest, row: Route, deed: Callable[[], str]) -> HttpResponse:
    return deed_done(
        request,
        deed,
        fragment=lambda refused: render(request, "catalogue/_steps.html", _steps(row, refused)),
        page=partial(_page, request, row),
        then=("catalogue:route", row.code),
    )


def _steps(row: Route, refused: str) -> dict[str, Any]:
    sheet = route_sheet(row)
    free = can_join(row, {line.step.operation_id for line in sheet.lines})
    return {"route": row, "sheet": sheet, "free": free, "refused": refused}


def _page(
    request: HttpRequest, row: Route, refused: str = "", *, form: RouteForm | None = None
) -> HttpResponse:
    form = form or RouteForm(instance=copy(row))
    facts = _steps(row, refused) | {"form": form}
    return render(request, "catalogue/route.html", facts, status=status_of(form))


def _given(form: RouteForm) -> dict[str, Any]:
    return {name: form.cleaned_data[name] for name in ("name", "kind", "note")} | {"weeks": form.weeks}
