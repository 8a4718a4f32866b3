"""The crew: who works where, who is away, who lends a hand."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

from django.contrib import messages
from django.http import Http404, HttpRequest, HttpResponse
from django.shortcuts import render

from shopflow.catalogue.views.answers import kept, me, only_for, row_for, saved, status_of
from shopflow.common import clock
from shopflow.people.access import Deed
from shopflow.people.forms.hours import WEEKDAYS
from shopflow.planning.forms.crew import LeaveForm, LoanForm, MoreForm
from shopflow.planning.measures import LendAHand, WorkMore
from shopflow.planning.models import ExtraHours, Leave, Loan
from shopflow.planning.selectors.crew import crew as the_crew
from shopflow.planning.services import crew as services
from shopflow.planning.services import drafts

UNKNOWN_TO_THE_PLAN = "The plan does not know this yet: plan anew on the Load."

FORMS = {"leave": LeaveForm, "loan": LoanForm, "more": MoreForm}
ROWS = {"leave": Leave, "loan": Loan, "more": ExtraHours}
DEEDS: dict[str, Callable[..., Any]] = {
    "leave": services.add_leave,
    "loan": services.lend,
    "more": services.work_more,
}


@only_for(Deed.PLAN, "GET", "HEAD")
def crew(request: HttpRequest) -> HttpResponse:
    return _page(request)


@only_for(Deed.PLAN, "POST")
def add(request: HttpRequest, kind: str) -> HttpResponse:
    """Write down a leave, a loan or extra hours."""
    form = _of(FORMS, kind)(request.POST)
    if "paper" in request.POST and kind in MEASURES:
        return _on_paper(request, kind, form)
    made = kept(form, lambda: DEEDS[kind](**form.cleaned_data, by=me(request)))
    if made is None:
        return _page(request, **{kind: form})
    also = [
        words
        for words in services.clashes(made.person, made.first_day, made.last_day)
        if words != services.words_of(made)
    ]
    if also:
        messages.warning(request, f"In the same time: {'; '.join(also)}.")
    return saved(request, f"{services.words_of(made)}. {UNKNOWN_TO_THE_PLAN}", "planning:crew")


def _on_paper(request: HttpRequest, kind: str, form: Any) -> HttpResponse:
    """The same as a measure of a draft: nothing is agreed before it is published."""
    tried = kept(form, lambda: drafts.try_on_paper(measures=[MEASURES[kind](form)], by=me(request)))
    if tried is None:
        return _page(request, **{kind: form})
    return saved(request, drafts.BEING_MADE, "planning:balance")


def _loan(form: Any) -> LendAHand:
    given = form.cleaned_data
    last = given["last"] or given["first"]
    return LendAHand(given["person"].pk, given["department"].pk, given["first"], last)


def _more(form: Any) -> WorkMore:
    given = form.cleaned_data
    last = given["last"] or given["first"]
    return WorkMore(given["person"].pk, float(given["hours_a_day"]), given["first"], last)


MEASURES: dict[str, Callable[[Any], LendAHand | WorkMore]] = {"loan": _loan, "more": _more}


@only_for(Deed.PLAN, "POST")
def end(request: HttpRequest, kind: str, pk: int) -> HttpResponse:
    """End what is under way, take back what has not begun."""
    row = row_for(request, _of(ROWS, kind).objects.all(), pk=pk)
    words = services.end(spell=row, by=me(request))
    return saved(request, f"{words} {UNKNOWN_TO_THE_PLAN}", "planning:crew")


def _of(table: dict[str, Any], kind: str) -> Any:
    if kind not in table:
        raise Http404
    return table[kind]


def _page(request: HttpRequest, **typed: Any) -> HttpResponse:
    forms = {kind: typed.get(kind) or form() for kind, form in FORMS.items()}
    facts = {
        "crew": the_crew(clock.today()),
        "weekdays": [name[:3] for name in WEEKDAYS],
        "forms": forms,
        "wrong": next(iter(typed.values()), None),
    }
    status = max(status_of(form) for form in forms.values())
    return render(request, "planning/crew.html", facts, status=status)
