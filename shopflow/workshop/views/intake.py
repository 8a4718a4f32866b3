"""The door of the house: taking in, changing what is known, promising, leaving, coming back."""

from __future__ import annotations

from typing import Any

from django.contrib import messages
from django.core.exceptions import ValidationError
from django.forms import Form
from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.views.decorators.http import require_http_methods, require_POST

from shopflow.common import clock
from shopflow.common.refusals import Refused
from shopflow.instruments.models import Instrument
from shopflow.instruments.selectors import instrument_or_404, known_words
from shopflow.instruments.selectors.crates import missing_of
from shopflow.people.access import Deed
from shopflow.people.door import me, only
from shopflow.workshop.forms.instrument import (
    ChangeFactsForm,
    FactsForm,
    LeaveForm,
    PromiseForm,
    ReturnForm,
    TakeInForm,
)
from shopflow.workshop.services import intake, passages


@only(Deed.INSTRUMENTS)
@require_http_methods(["GET", "HEAD", "POST"])
def take_in(request: HttpRequest) -> HttpResponse:
    if request.method != "POST":
        form = TakeInForm(initial={"number": intake.next_number(), "arrived_on": clock.today()})
        return _facts_page(request, "workshop/take_in.html", form)
    form = TakeInForm(request.POST)
    if form.is_valid():
        try:
            instrument = intake.take_in(
                by=me(request),
                arrived_on=form.cleaned_data["arrived_on"],
                new_owner=form.new_owner,
                route=form.cleaned_data["route"],
                **form.facts,
            )
        except (Refused, ValidationError) as refused:
            _put_on(form, refused)
        else:
            messages.success(request, f"{instrument.number} is taken in.")
            return redirect(instrument)
    return _facts_page(request, "workshop/take_in.html", form, status=422)


@only(Deed.INSTRUMENTS)
@require_http_methods(["GET", "HEAD", "POST"])
def facts(request: HttpRequest, number: str) -> HttpResponse:
    """Change what is known; who saves second sees both versions and keeps what was typed."""
    instrument = instrument_or_404(number)
    page = "workshop/instrument_facts.html"
    if request.method != "POST":
        return _facts_page(request, page, ChangeFactsForm(instrument=instrument), instrument=instrument)
    form = ChangeFactsForm(request.POST, instrument=instrument)
    if form.is_valid():
        try:
            kept = intake.change_facts(
                instrument=instrument,
                seen_version=form.cleaned_data["version"],
                facts=form.facts,
                new_owner=form.new_owner,
                by=me(request),
            )
        except intake.ChangedMeanwhile as clash:
            return _both_versions(request, page, form, clash.instrument)
        except (Refused, ValidationError) as refused:
            _put_on(form, refused)
        else:
            messages.success(request, f"{kept.number} is changed.")
            return redirect(kept)
    return _facts_page(request, page, form, instrument=instrument, status=422)


@only(Deed.INSTRUMENTS)
@require_POST
def promise(request: HttpRequest, number: str) -> HttpResponse:
    instrument = instrument_or_404(number)
    form = PromiseForm(request.POST)
    if not form.is_valid():
        return _door_page(request, instrument, "promise", form, status=422)
    try:
        intake.change_facts(
            instrument=instrument,
            seen_version=form.cleaned_data["version"],
            facts={"promised_on": form.cleaned_data["promised_on"]},
            by=me(request),
        )
    except intake.ChangedMeanwhile as clash:
        form = _with_version(form, clash.instrument)
        return _door_page(request, clash.instrument, "promise", form, status=409, clash=clash)
    day = form.cleaned_data["promised_on"]
    messages.success(request, f"Promised for {day:%d %b %Y}." if day else "There is no promised date now.")
    return redirect(instrument)


@only(Deed.LET_LEAVE)
@require_POST
def leave(request: HttpRequest, number: str) -> HttpResponse:
    instrument = instrument_or_404(number)
    form = LeaveForm(request.POST)
    if form.is_valid():
        try:
            passages.let_leave(instrument=instrument, by=me(request), **form.cleaned_data)
        except Refused as refused:
            asked = refused.field or "reason"
            form.add_error(asked, refused.message)
            form.fields[asked].required = True  # so the page no longer says that it may stay empty
        else:
            messages.success(request, f"{instrument.number} has left the house.")
            return redirect(instrument)
    return _door_page(
        request, instrument, "leave", form, status=422, missing=missing_of(instrument), may_snag=True
    )


@only(Deed.INSTRUMENTS)
@require_POST
def come_back(request: HttpRequest, number: str) -> HttpResponse:
    instrument = instrument_or_404(number)
    form = ReturnForm(request.POST)
    if form.is_valid():
        try:
            passages.arrive(instrument=instrument, on=form.cleaned_data["on"], by=me(request))
        except Refused as refused:
            form.add_error("on", refused.message)
        else:
            messages.success(request, f"{instrument.number} is in the house again.")
            return redirect(instrument)
    return _door_page(request, instrument, "return", form, status=422)


def _facts_page(
    request: HttpRequest, template: str, form: FactsForm, *, status: int = 200, **more: Any
) -> HttpResponse:
    context = {"form": form, "known": known_words(), **more}
    return render(request, template, context, status=status)


def _both_versions(request: HttpRequest, page: str, form: ChangeFactsForm, now: Instrument) -> HttpResponse:
    """What stands in the shop, what was typed, and a form that saves over it only when sent again."""
    differing = form.differences(now)
    form = _with_version(form, now)
    context = {"instrument": now, "differing": differing, "clash": True}
    return _facts_page(request, page, form, status=409, **context)


def _with_version(form: Any, now: Instrument) -> Any:
    form.data = form.data.copy()
    form.data["version"] = now.version
    return form


def _put_on(form: Form, refused: Refused | ValidationError) -> None:
    """Show a service's refusal at the fields it names."""
    if isinstance(refused, Refused):
        form.add_error(None, refused.message)
        return
    told = refused.message_dict if hasattr(refused, "error_dict") else {"": refused.messages}
    for name, words in told.items():
        form.add_error(name if name in form.fields else None, words)


def _door_page(
    request: HttpRequest, instrument: Instrument, which: str, form: Form, *, status: int, **more: Any
) -> HttpResponse:
    context = {"instrument": instrument, "which": which, "form": form, **more}
    return render(request, "workshop/instrument_door.html", context, status=status)
