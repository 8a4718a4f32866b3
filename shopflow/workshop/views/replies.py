"""Answers to a tap: JSON for the outbox, a fragment for htmx, a page or a way back for a plain form."""

from __future__ import annotations

from typing import Any

from django.contrib import messages
from django.contrib.auth.views import redirect_to_login
from django.forms import Form
from django.http import HttpRequest, HttpResponse, HttpResponseRedirect, JsonResponse
from django.shortcuts import render
from django.urls import reverse
from django_htmx.http import trigger_client_event

from shopflow.catalogue.models import Stage
from shopflow.common.htmx import pulse_mark, wants_fragment, wants_json
from shopflow.people import access
from shopflow.people.access import Deed
from shopflow.people.envelope import Envelope
from shopflow.workshop.models import Task
from shopflow.workshop.selectors.bench import bench_work
from shopflow.workshop.selectors.open_task import task_or_404
from shopflow.workshop.services.taps import Answer

from .bench import show_task


class SeeOther(HttpResponseRedirect):
    """After a deed: look there. A page reached so can be reloaded without doing the deed again."""

    status_code = 303


def sign_in_first(request: HttpRequest, pk: int) -> HttpResponse:
    """Nobody is signed in: the outbox keeps its tap, a person is led to the sign-in page and back."""
    if wants_json(request):
        return JsonResponse({"words": "Nobody is signed in on this tablet."}, status=401)
    return redirect_to_login(reverse("workshop:task", args=[pk]))


def done(request: HttpRequest, pk: int, answer: Answer, envelope: Envelope) -> HttpResponse:
    words = words_of(answer)
    if wants_json(request):
        return JsonResponse({"words": words, "notes": envelope.notes, "task": pk})
    task = task_or_404(pk)
    if wants_fragment(request):
        answer_page = _page(request, task)
        return trigger_client_event(answer_page, "say", " ".join([words, *envelope.notes]))
    messages.success(request, words)
    for note in envelope.notes:
        messages.warning(request, note)
    return SeeOther(_way_on(request, task))


def refused(
    request: HttpRequest, pk: int, status: int, words: str, *, form: Form | None = None, slot: str = ""
) -> HttpResponse:
    """What was refused and why, with the task as it stands now and its real next step."""
    if wants_json(request):
        return JsonResponse({"words": words, "task": pk}, status=status)
    # Whoever may not even look at the shop gets the plain refusal, not the task.
    access.require(request.user, Deed.SEE_SHOP)
    typed = {slot: form} if form is not None and slot else {}
    return _page(request, task_or_404(pk), status=status, refusal=words, typed=typed)


def form_again(request: HttpRequest, task: Task, form: Form, *, slot: str) -> HttpResponse:
    """The form with what was typed and what is wrong with it."""
    words = " ".join(
        f"{form.fields[name].label or name}: {' '.join(errors)}" if name in form.fields else " ".join(errors)
        for name, errors in form.errors.items()
    )
    return refused(request, task.pk, 422, f"{words} Nothing was changed.", form=form, slot=slot)


def words_of(answer: Answer) -> str:
    """One line about what was done, for the status line."""
    said: dict[str, Any] = answer.said
    if "words" in said:
        return said["words"]
    return f"{said['instrument']}: “{said['from']}” → “{said['to']}”."


def _page(request: HttpRequest, task: Task, *, status: int = 200, **more: Any) -> HttpResponse:
    """The open task, whole or as a fragment; or the bench's list where htmx tapped in it."""
    mark = pulse_mark()
    if wants_fragment(request) and request.htmx.target == "work":  # type: ignore[attr-defined]
        work = bench_work(task.department, viewer=request.user)
        context = {"work": work, "pulse_mark": mark, **more}
        return render(request, "workshop/_bench_work.html", context, status=status)
    request.pulse_mark = mark  # type: ignore[attr-defined]
    return show_task(request, task, status=status, **more)


def _way_on(request: HttpRequest, task: Task) -> str:
    """Back to the list where one came from it or the task is through; else the task again."""
    came_from_list = request.POST.get("from") == "bench"
    if came_from_list or task.stage.kind == Stage.Kind.SIGNED:
        return reverse("workshop:bench", args=[task.department.code])
    return reverse("workshop:task", args=[task.pk])
