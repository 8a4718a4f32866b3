"""From a hole in a crate to a snag on the work it stops."""

from __future__ import annotations

from typing import Any

from django.contrib import messages
from django.http import HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.views.decorators.http import require_http_methods

from shopflow.common.refusals import Refused
from shopflow.instruments.models import CrateLine, Instrument
from shopflow.instruments.selectors import instrument_or_404
from shopflow.people.access import Deed
from shopflow.people.door import me, only
from shopflow.people.envelope import BadEnvelope, read_envelope
from shopflow.workshop.forms.parts import MissingPartForm
from shopflow.workshop.models import Task
from shopflow.workshop.selectors.parts import tasks_to_stop
from shopflow.workshop.services.parts import missing_part_snag


@only(Deed.SNAG)
@require_http_methods(["GET", "HEAD", "POST"])
def missing(request: HttpRequest, number: str, pk: int) -> HttpResponse:
    instrument = instrument_or_404(number)
    line = get_object_or_404(CrateLine.objects.select_related("crate"), pk=pk, crate__instrument=instrument)
    tasks = tasks_to_stop(instrument)
    if request.method != "POST":
        form = MissingPartForm(tasks=tasks, initial={"owner": request.user})
        return _page(request, instrument, line, form)
    form = MissingPartForm(request.POST, tasks=tasks)
    if form.is_valid():
        try:
            answer = _stop(request, line, form.cleaned_data)
        except (Refused, BadEnvelope) as why:
            form.add_error(None, str(why))
        else:
            if answer.status == 200:
                messages.success(request, answer.said["words"])
                return redirect("workshop:task", answer.said["task"])
            form.add_error(None, answer.said["refused"])
    return _page(request, instrument, line, form, status=422)


def _stop(request: HttpRequest, line: CrateLine, said: dict[str, Any]) -> Any:
    task: Task = said["task"]
    return missing_part_snag(
        line=line,
        task=task,
        ask_again_on=said["day"],
        owner=said["owner"],
        owner_outside="" if said["owner"] else said["owner_outside"],
        by=me(request),
        tap=read_envelope(request, by=me(request)).tap,
    )


def _page(
    request: HttpRequest, instrument: Instrument, line: CrateLine, form: MissingPartForm, *, status: int = 200
) -> HttpResponse:
    context = {
        "instrument": instrument,
        "line": line,
        "form": form,
        "has_work": form.fields["task"].initial is not None,
    }
    return render(request, "workshop/missing_part.html", context, status=status)
