"""A survey as a whole: begin, go on, look over, finish, and its report."""

from __future__ import annotations

from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.urls import reverse
from django.views.decorators.http import require_http_methods, require_POST, require_safe

from shopflow.catalogue.models import ComponentGroup
from shopflow.common.refusals import Refused
from shopflow.people.access import Deed
from shopflow.people.door import me, only
from shopflow.people.edits import ChangedMeanwhile

from ..forms.survey import BeginForm, FinishForm, KnownForm
from ..models import Finding, Instrument, Survey
from ..selectors import instrument_or_404
from ..selectors.report import survey_report
from ..selectors.survey import Overview, others_typing, overview, surveys_of
from ..services import survey as services
from .at_hand import done, none_open, open_survey, survey_or_404, units

# What is mostly true, to be sent in one tap or written over: at a first survey, and at a later one.
WHY_NOT = ("not at this visit", "as in the survey before")


@only(Deed.SURVEY)
@require_safe
def survey(request: HttpRequest, number: str) -> HttpResponse:
    """The open survey; or what there was, and how to begin one."""
    instrument = instrument_or_404(number)
    return _start(request, instrument)


@only(Deed.SURVEY)
@require_POST
def begin(request: HttpRequest, number: str) -> HttpResponse:
    instrument = instrument_or_404(number)
    if instrument.surveys.filter(finished_at=None).exists():
        return redirect("instruments:survey", instrument.number)
    form = BeginForm(request.POST, is_first=not instrument.surveys.exists(), units=units())
    if form.is_valid():
        try:
            services.begin_survey(instrument=instrument, by=me(request), **form.cleaned_data)
        except Refused as refused:
            form.add_error(refused.field, refused.message)
        else:
            return redirect("instruments:survey", instrument.number)
    return _start(request, instrument, form=form, status=422)


def _start(
    request: HttpRequest, instrument: Instrument, *, form: BeginForm | None = None, status: int = 200
) -> HttpResponse:
    surveys = surveys_of(instrument)
    writing = next((one for one in surveys if one.finished_at is None), None)
    if writing is not None:
        writing.instrument = instrument
        return _open(request, writing, surveys)
    context = {
        "instrument": instrument,
        "surveys": surveys,
        "form": form or BeginForm(is_first=not surveys, units=units(), initial={"place": instrument.place}),
    }
    return render(request, "instruments/survey_begin.html", context, status=status)


def _open(request: HttpRequest, last: Survey, surveys: list[Survey]) -> HttpResponse:
    whole = overview(last, viewer=me(request))
    context = {
        "instrument": last.instrument,
        "survey": last,
        "surveys": surveys,
        "whole": whole,
        "verdicts": Finding.Verdict.choices,
    }
    return render(request, "instruments/survey.html", context)


@only(Deed.SURVEY)
@require_http_methods(["GET", "HEAD", "POST"])
def finish(request: HttpRequest, number: str) -> HttpResponse:
    instrument = instrument_or_404(number)
    if request.method != "POST":
        writing = open_survey(instrument)
        if writing is None:
            return none_open(request, instrument)
        return _finish_page(request, overview(writing, viewer=me(request)))
    last = survey_or_404(instrument)
    form = FinishForm(request.POST, untouched=False, begun=False)
    if form.is_valid():
        try:
            services.finish_survey(survey=last, by=me(request), **form.cleaned_data)
        except Refused as refused:
            form.add_error(refused.field, refused.message)
        else:
            return done(
                request, "The survey is finished.", reverse("instruments:survey-report", args=[number])
            )
    return _finish_page(request, overview(last, viewer=me(request)), form, status=422)


def _finish_page(
    request: HttpRequest, whole: Overview, form: FinishForm | None = None, *, status: int = 200
) -> HttpResponse:
    silent = [line for line in whole.lines if not line.is_done]
    untouched = [line for line in silent if not line.is_touched]
    begun = [line for line in silent if line.is_touched]
    if form is None:
        typed: dict[str, str] = next((draft.fields for draft in whole.drafts if draft.form == "finish"), {})
        initial = {"begun_word": "found", "why_not": WHY_NOT[whole.survey.number > 1]} | typed
        form = FinishForm(initial=initial, untouched=bool(untouched), begun=bool(begun))
    context = {
        "instrument": whole.survey.instrument,
        "whole": whole,
        "untouched": untouched,
        "begun": begun,
        "form": form,
        "others": others_typing(whole.survey, besides=me(request)),
    }
    return render(request, "instruments/survey_finish.html", context, status=status)


@only(Deed.SURVEY)
@require_http_methods(["GET", "HEAD", "POST"])
def known(request: HttpRequest, number: str) -> HttpResponse:
    """Alterations, earlier repairs, fragile parts."""
    instrument = instrument_or_404(number)
    writing = instrument.surveys.filter(finished_at=None).first()
    if request.method != "POST":
        drafts = writing.drafts.filter(by=me(request), form="known") if writing else []
        typed = next((draft.fields for draft in drafts), None)
        return _known_page(request, instrument, KnownForm.showing(instrument, typed))
    form = KnownForm(request.POST)
    if not form.is_valid():
        return _known_page(request, instrument, form, status=422)
    facts = {name: form.cleaned_data[name] for name in services.KNOWN}
    try:
        services.write_known(
            instrument=instrument, facts=facts, seen=form.cleaned_data["seen"], by=me(request), draft="known"
        )
    except ChangedMeanwhile as clash:
        instrument.refresh_from_db()
        again = form.overtaken_by(instrument)
        return _known_page(request, instrument, again, status=409, clash=clash)
    return done(request, "It is written down.", reverse("instruments:survey", args=[instrument.number]))


def _known_page(
    request: HttpRequest,
    instrument: Instrument,
    form: KnownForm,
    *,
    status: int = 200,
    clash: ChangedMeanwhile | None = None,
) -> HttpResponse:
    writing = instrument.surveys.filter(finished_at=None).exists()
    context = {"instrument": instrument, "form": form, "clash": clash, "writing": writing}
    return render(request, "instruments/survey_known.html", context, status=status)


@only(Deed.SURVEY)
@require_safe
def report(request: HttpRequest, number: str) -> HttpResponse:
    """What stands against it, in words for its owner: the base of an offer."""
    instrument = instrument_or_404(number)
    told = survey_report(instrument, units=units())
    context = {"instrument": instrument, "report": told, "groups": ComponentGroup.objects.count()}
    return render(request, "instruments/survey_report.html", context)
