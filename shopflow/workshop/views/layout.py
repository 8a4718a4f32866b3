"""Laying out an instrument's work: the office starts a route, adds, drops, orders, ties and assigns."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

from django.contrib import messages
from django.forms import Form
from django.http import Http404, HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.urls import reverse
from django.views.decorators.http import require_POST, require_safe
from django_htmx.http import trigger_client_event

from shopflow.common.htmx import wants_fragment
from shopflow.common.refusals import Refused
from shopflow.instruments.models import Instrument
from shopflow.instruments.selectors import instrument_or_404
from shopflow.people.access import Deed
from shopflow.people.door import me, only
from shopflow.workshop.forms.layout import (
    AddTaskForm,
    AssignForm,
    DropForm,
    MoveInOrderForm,
    OtherTaskForm,
    PartsForm,
    RouteForm,
)
from shopflow.workshop.models import Task
from shopflow.workshop.selectors.instrument import work_of
from shopflow.workshop.selectors.piano_says import piano_says
from shopflow.workshop.services import layout
from shopflow.workshop.services.order.places import WHOLE_CASE, in_words


@only(Deed.INSTRUMENTS)
@require_safe
def work(request: HttpRequest, number: str) -> HttpResponse:
    return _work_page(request, instrument_or_404(number))


@only(Deed.INSTRUMENTS)
@require_POST
def start_route(request: HttpRequest, number: str) -> HttpResponse:
    instrument = instrument_or_404(number)
    form = RouteForm(request.POST, instrument=instrument)

    def deed() -> str:
        route = form.cleaned_data["route"]
        tasks = layout.start_route(instrument=instrument, route=route, by=me(request))
        return f"{len(tasks)} tasks are laid out from “{route.name}”."

    return _work_deed(request, instrument, form, deed, slot="route_form")


@only(Deed.INSTRUMENTS)
@require_POST
def add(request: HttpRequest, number: str) -> HttpResponse:
    instrument = instrument_or_404(number)
    form = AddTaskForm(request.POST, instrument=instrument)

    def deed() -> str:
        said = form.cleaned_data
        return layout.add_work(
            instrument=instrument,
            operations=[said["operation"]],
            by=me(request),
            name=said["name"],
            note=said["note"],
            seen_newest=said["newest"],
            twice=bool(said["name"]),
        ).words

    return _work_deed(request, instrument, form, deed, slot="add_form")


@only(Deed.INSTRUMENTS)
@require_POST
def order(request: HttpRequest, number: str, pk: int) -> HttpResponse:
    instrument = instrument_or_404(number)
    task = _task_or_404(instrument, pk)
    form = MoveInOrderForm(request.POST)

    def deed() -> str:
        layout.move_in_order(task=task, by=me(request), places=form.cleaned_data["places"])
        return f"“{task.name}” is moved."

    return _work_deed(request, instrument, form, deed, slot="order_form")


@only(Deed.INSTRUMENTS)
@require_safe
def task(request: HttpRequest, number: str, pk: int) -> HttpResponse:
    instrument = instrument_or_404(number)
    return _task_page(request, instrument, _task_or_404(instrument, pk))


@only(Deed.INSTRUMENTS)
@require_POST
def assign(request: HttpRequest, number: str, pk: int) -> HttpResponse:
    instrument = instrument_or_404(number)
    task = _task_or_404(instrument, pk)
    form = AssignForm(request.POST)

    def deed() -> str:
        person = form.cleaned_data["person"]
        layout.assign(task=task, person=person, by=me(request))
        return f"“{task.name}” is for {person or 'nobody in particular'}."

    return _task_deed(request, instrument, task, form, deed, slot="assign_form")


@only(Deed.INSTRUMENTS)
@require_POST
def tie(request: HttpRequest, number: str, pk: int) -> HttpResponse:
    instrument = instrument_or_404(number)
    task = _task_or_404(instrument, pk)
    form = OtherTaskForm(request.POST, task=task)

    def deed() -> str:
        earlier = form.cleaned_data["needs"]
        layout.tie(task=task, needs=earlier, by=me(request))
        return f"“{task.name}” waits for “{earlier.name}”."

    return _task_deed(request, instrument, task, form, deed, slot="tie_form")


@only(Deed.INSTRUMENTS)
@require_POST
def untie(request: HttpRequest, number: str, pk: int) -> HttpResponse:
    instrument = instrument_or_404(number)
    task = _task_or_404(instrument, pk)
    form = OtherTaskForm(request.POST, task=task)

    def deed() -> str:
        earlier = form.cleaned_data["needs"]
        layout.untie(task=task, needs=earlier, by=me(request))
        return f"“{task.name}” does not wait for “{earlier.name}” any more."

    return _task_deed(request, instrument, task, form, deed, slot="untie_form")


@only(Deed.INSTRUMENTS)
@require_POST
def parts(request: HttpRequest, number: str, pk: int) -> HttpResponse:
    instrument = instrument_or_404(number)
    task = _task_or_404(instrument, pk)
    form = PartsForm(request.POST)

    def deed() -> str:
        layout.say_where(task=task, parts=form.cleaned_data["parts"], by=me(request))
        return f"“{task.name}” holds {in_words(task.at)}."

    return _task_deed(request, instrument, task, form, deed, slot="parts_form")


@only(Deed.INSTRUMENTS)
@require_POST
def drop(request: HttpRequest, number: str, pk: int) -> HttpResponse:
    instrument = instrument_or_404(number)
    task = _task_or_404(instrument, pk)
    form = DropForm(request.POST)

    def deed() -> str:
        layout.drop_task(task=task, by=me(request), reason=form.cleaned_data["reason"])
        return f"“{task.name}” is dropped. It stays in the story with your reason."

    words = _done(form, deed)
    if not words:
        return _task_page(request, instrument, task, status=422, drop_form=form)
    messages.success(request, words)
    return redirect("workshop:work", instrument.number)


def _task_or_404(instrument: Instrument, pk: int) -> Task:
    """A task of this instrument that is in the job; another instrument's is as missing as none."""
    tasks = Task.objects.in_the_job().filter(instrument=instrument, pk=pk)
    found = tasks.select_related("instrument", "department", "stage", "person", "operation").first()
    if found is None:
        raise Http404("There is no such task.")
    return found


def _done(form: Form, deed: Callable[[], str]) -> str:
    """Do the deed if the form is in order; no words when it or the service refused."""
    if not form.is_valid():
        return ""
    try:
        return deed()
    except Refused as refused:
        form.add_error(None, refused.message)
        return ""


def _work_deed(
    request: HttpRequest, instrument: Instrument, form: Form, deed: Callable[[], str], *, slot: str
) -> HttpResponse:
    words = _done(form, deed)
    if not words:
        return _work_page(request, instrument, status=422, **{slot: form})
    if wants_fragment(request):
        return trigger_client_event(_work_page(request, instrument), "say", {"value": words})
    messages.success(request, words)
    return redirect("workshop:work", instrument.number)


def _task_deed(
    request: HttpRequest,
    instrument: Instrument,
    task: Task,
    form: Form,
    deed: Callable[[], str],
    *,
    slot: str,
) -> HttpResponse:
    words = _done(form, deed)
    if not words:
        return _task_page(request, instrument, task, status=422, **{slot: form})
    if wants_fragment(request):
        return trigger_client_event(_task_page(request, instrument, task), "say", {"value": words})
    messages.success(request, words)
    return redirect("workshop:work-task", instrument.number, task.pk)


def _work_page(
    request: HttpRequest, instrument: Instrument, *, status: int = 200, **forms: Form
) -> HttpResponse:
    context: dict[str, Any] = {
        "instrument": instrument,
        "work": work_of(instrument),
        "says": piano_says(instrument),
        "route_form": RouteForm(instrument=instrument),
        "add_form": AddTaskForm(instrument=instrument),
    }
    return _render(request, "work", context | forms, status)


def _task_page(
    request: HttpRequest, instrument: Instrument, task: Task, *, status: int = 200, **forms: Form
) -> HttpResponse:
    context: dict[str, Any] = {
        "instrument": instrument,
        "line": next(line for line in work_of(instrument).lines if line.task.pk == task.pk),
        "assign_form": AssignForm(initial={"person": task.person_id}),
        "tie_form": OtherTaskForm(task=task),
        "drop_form": DropForm(),
        "unmet": layout.what_dropping_means(task),
        "parts_form": PartsForm(initial={"parts": task.at or WHOLE_CASE}),
        "here": reverse("workshop:work-task", args=[instrument.number, task.pk]),
    }
    return _render(request, "work_task", context | forms, status)


def _render(request: HttpRequest, name: str, context: dict[str, Any], status: int) -> HttpResponse:
    template = f"workshop/_{name}.html" if wants_fragment(request) else f"workshop/{name}.html"
    return render(request, template, context, status=status)
