"""The sheet of a task: looked at, and each of its taps."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

from django import forms
from django.http import Http404, HttpRequest, HttpResponse
from django.shortcuts import render
from django.urls import reverse
from django.views.decorators.http import require_safe

from shopflow.catalogue.selectors import the_shop
from shopflow.common.htmx import wants_fragment
from shopflow.people.access import Deed
from shopflow.people.door import only
from shopflow.people.models import Person
from shopflow.people.taps import TapIn
from shopflow.readings.forms.sheet import CureForm, ReadingForm, StrikeForm
from shopflow.readings.models import Computed, Reading
from shopflow.readings.parts import Sum
from shopflow.readings.selectors.reads import reading_kinds
from shopflow.readings.selectors.sheet import open_sheet
from shopflow.readings.selectors.which import cautions_of, kinds_for
from shopflow.readings.services import cautions as cautions_service
from shopflow.readings.services import cures, sheets
from shopflow.readings.sheets import SHEETS
from shopflow.workshop.models import Task
from shopflow.workshop.selectors.open_task import task_or_404
from shopflow.workshop.services.taps import Answer

from .answers import answer_tap, by_hand


@only(Deed.SEE_SHOP)
@require_safe
def sheet(request: HttpRequest, pk: int, kind: str = "") -> HttpResponse:
    """The whole sheet; htmx fetches only what has come onto it, so that half-filled forms stay."""
    if kind:
        return show_sheet(request, *_with_sheet(pk, kind))
    task = task_or_404(pk)
    if not (kinds := kinds_for(task)):
        return render(request, "readings/no_sheet.html", {"task": task, "piano": task.instrument})
    return show_sheet(request, task, kinds[0])


def show_sheet(
    request: HttpRequest, task: Task, kind: str, *, status: int = 200, **more: Any
) -> HttpResponse:
    opened = open_sheet(task, kind, viewer=request.user, typed=more.pop("typed", None))
    context = {"opened": opened, "task": task, "piano": task.instrument, "strike_form": StrikeForm(), **more}
    name = "readings/_sheet_news.html" if wants_fragment(request) else "readings/sheet.html"
    return render(request, name, context, status=status)


def _with_sheet(pk: int, kind: str) -> tuple[Task, str]:
    """The task, and the kind of sheet where it may be worked with it or was before."""
    task = task_or_404(pk)
    if kind not in SHEETS or (kind not in kinds_for(task) and not task.sheets.filter(kind=kind).exists()):
        raise Http404("This task has no such sheet.")
    return task, kind


@by_hand
def read(request: HttpRequest, by: Person, pk: int, kind: str) -> HttpResponse:
    """One reading onto the sheet."""
    task, kind = _with_sheet(pk, kind)
    kinds = reading_kinds(SHEETS[kind], task.instrument.kind)
    form = ReadingForm(request.POST, kinds=kinds, units=the_shop().units)

    def deed(tap: TapIn) -> Answer:
        said = form.cleaned_data
        return sheets.take_reading(
            task_id=task.pk,
            sheet=kind,
            kind=said["reading_kind"],
            measure=said["measure"],
            phase=said["phase"],
            place=said["place"],
            yes=said["yes"],
            by=by,
            tap=tap,
        )

    return _answer(request, by, task, kind, form, deed, slot="reading")


@by_hand
def work_out(request: HttpRequest, by: Person, pk: int, kind: str, code: str) -> HttpResponse:
    """One sum of the sheet, with its answer kept."""
    task, kind = _with_sheet(pk, kind)
    of = _sum(kind, code)
    form = of.form(request.POST, units=the_shop().units, auto_id=f"{code}_%s")

    def deed(tap: TapIn) -> Answer:
        beyond = form.kept_after_yes
        given = {} if beyond else form.given
        return sheets.compute(
            task_id=task.pk,
            sheet=kind,
            of=of,
            typed=form.typed,
            given=given,
            beyond=beyond,
            by=by,
            tap=tap,
        )

    return _answer(request, by, task, kind, form, deed, slot=code)


def _sum(kind: str, code: str) -> Sum:
    try:
        return SHEETS[kind].sums[code]
    except KeyError:
        raise Http404("There is no such sum on this sheet.") from None


@by_hand
def strike(request: HttpRequest, by: Person, pk: int, kind: str, what: str, line_pk: int) -> HttpResponse:
    """Strike a reading or an answer, with a reason."""
    task, kind = _with_sheet(pk, kind)
    line = _line(task, kind, what, line_pk)
    form = StrikeForm(request.POST)

    def deed(tap: TapIn) -> Answer:
        return sheets.strike(line=line, reason=form.cleaned_data["reason"], by=by, tap=tap)

    return _answer(request, by, task, kind, form, deed, slot="strike")


def _line(task: Task, kind: str, what: str, pk: int) -> Reading | Computed:
    models: dict[str, type[Reading | Computed]] = {"reading": Reading, "computed": Computed}
    mine = {"pk": pk, "sheet__task": task, "sheet__kind": kind}
    line = models[what].objects.select_related("sheet").filter(**mine).first() if what in models else None
    if line is None:
        raise Http404("There is no such line on this sheet.")
    return line


@by_hand
def seen(request: HttpRequest, by: Person, pk: int, kind: str) -> HttpResponse:
    """“I have read this.”"""
    task, kind = _with_sheet(pk, kind)

    def deed(tap: TapIn) -> Answer:
        shown = cautions_of(task, SHEETS[kind])
        return cautions_service.see_cautions(task=task, cautions=shown, by=by, tap=tap)

    return _answer(request, by, task, kind, None, deed, slot="")


@by_hand
def cure(request: HttpRequest, by: Person, pk: int, kind: str) -> HttpResponse:
    """The least rest of this task, by the product's sheet."""
    task, kind = _with_sheet(pk, kind)
    form = CureForm(request.POST, units=the_shop().units)

    def deed(tap: TapIn) -> Answer:
        said = form.cleaned_data
        return cures.set_cure(
            task_id=task.pk,
            hours=said["hours"].value,
            basis=said["basis"],
            reason=said["reason"],
            by=by,
            tap=tap,
        )

    return _answer(request, by, task, kind, form, deed, slot="cure")


def _answer(
    request: HttpRequest,
    by: Person,
    task: Task,
    kind: str,
    form: forms.Form | None,
    deed: Callable[[TapIn], Answer],
    *,
    slot: str,
) -> HttpResponse:
    def again(status: int, words: str) -> HttpResponse:
        typed = {slot: form} if form is not None and slot else {}
        return show_sheet(request, task, kind, status=status, refusal=words, typed=typed, asked=slot)

    return answer_tap(
        request,
        by,
        back=f"{reverse('readings:sheet-of', args=[task.pk, kind])}#{slot or 'page'}",
        form=form,
        deed=deed,
        again=again,
    )
