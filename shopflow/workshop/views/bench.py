"""The Bench: choose one, see its work, open a task."""

from __future__ import annotations

from typing import Any

from django.http import HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.views.decorators.http import require_safe

from shopflow.catalogue.models import Department
from shopflow.common import clock
from shopflow.common.htmx import only_when_changed, wants_fragment
from shopflow.people import access
from shopflow.people.access import Deed
from shopflow.people.door import only
from shopflow.people.models import Role
from shopflow.workshop.forms.taps import HoursForm, MoveForm, SnagForm
from shopflow.workshop.models import Task
from shopflow.workshop.selectors.bench import bench_choices, bench_work
from shopflow.workshop.selectors.open_task import open_task, task_or_404
from shopflow.workshop.services.hours import TAKE_BACK_WITHIN

HOUR_CHIPS = [("0.25", "¼"), ("0.5", "½"), ("1", "1"), ("2", "2"), ("4", "4")]


@only(Deed.SEE_SHOP)
@require_safe
def benches(request: HttpRequest) -> HttpResponse:
    """Straight to one's own bench; the list of all of them on `?all`, or where there is no own one."""
    own = _own_bench(request)
    if own and "all" not in request.GET:
        return redirect("workshop:bench", own.code)
    return render(request, "workshop/benches.html", {"choices": bench_choices(viewer=request.user)})


def _own_bench(request: HttpRequest) -> Department | None:
    """The tablet's bench for someone who works there, else the person's own, else the tablet's."""
    at = request.tablet.department if request.tablet else None  # type: ignore[attr-defined]
    person = request.user
    if person.acting_role != Role.HAND:
        return at
    if at and access.may(person, Deed.WORK_AT_BENCH, bench=at):
        return at
    return person.home or at


@only(Deed.SEE_SHOP)
@require_safe
@only_when_changed
def bench(request: HttpRequest, code: str) -> HttpResponse:
    """What is next at this bench, and why."""
    department = get_object_or_404(Department, code=code)
    context = {
        "work": bench_work(department, viewer=request.user),
        "pulse_mark": request.pulse_mark,  # type: ignore[attr-defined]
    }
    return render(request, _fragment_or_page(request, "bench_work", "bench"), context)


@only(Deed.SEE_SHOP)
@require_safe
@only_when_changed
def task(request: HttpRequest, pk: int) -> HttpResponse:
    """One task, open on the bench."""
    return show_task(request, task_or_404(pk))


def show_task(request: HttpRequest, opened: Task, *, status: int = 200, **more: Any) -> HttpResponse:
    """The open task; after a refusal with its words and with what was typed still in its form."""
    context = {
        "hour_chips": HOUR_CHIPS,
        "day_ago": clock.now() - TAKE_BACK_WITHIN,
        "opened": open_task(opened, viewer=request.user),
        "forms": {"snag": SnagForm(initial={"owner": request.user}), "hours": HoursForm(), "back": MoveForm()}
        | more.pop("typed", {}),
        "pulse_mark": getattr(request, "pulse_mark", ""),
        **more,
    }
    return render(request, _fragment_or_page(request, "open_task", "task"), context, status=status)


def _fragment_or_page(request: HttpRequest, fragment: str, page: str) -> str:
    name = f"_{fragment}" if wants_fragment(request) else page
    return f"workshop/{name}.html"
