"""One group at a time: what was found, what was read, and the word that closes it."""

from __future__ import annotations

from django.conf import settings
from django.http import HttpRequest, HttpResponse, JsonResponse
from django.shortcuts import get_object_or_404, render
from django.urls import reverse
from django.utils import timezone
from django.views.decorators.http import require_POST, require_safe

from shopflow.catalogue.models import ComponentGroup, ReadingKind
from shopflow.common.refusals import Refused
from shopflow.people.access import Deed
from shopflow.people.door import me, only

from ..forms.survey import LookForm, ReadingForm
from ..models import Finding, Instrument, Survey, SurveyReading
from ..selectors import instrument_or_404
from ..selectors.survey import overview
from ..selectors.survey_group import group_page
from ..services import survey as services
from .at_hand import Context, done, fresh_key, group_or_404, none_open, open_survey, survey_or_404, units

SAID = {
    "good": "{group}: looked at, nothing found.",
    "found": "{group}: looked at, with findings.",
    "partly": "{group}: only partly seen.",
    "not": "{group}: not inspected.",
}


@only(Deed.SURVEY)
@require_safe
def group(request: HttpRequest, number: str, group: str) -> HttpResponse:
    instrument, part = instrument_or_404(number), group_or_404(group)
    survey = open_survey(instrument)
    return _page(request, survey, part) if survey else none_open(request, instrument)


@only(Deed.SURVEY)
@require_POST
def look(request: HttpRequest, number: str, group: str) -> HttpResponse:
    """The word that closes a group; then on to the next one that is open."""
    instrument, part = instrument_or_404(number), group_or_404(group)
    survey = survey_or_404(instrument)
    form = LookForm(request.POST)
    if not form.is_valid():
        return _page(request, survey, part, status=422, look_form=form)
    try:
        services.say_look(
            survey=survey, group=part, by=me(request), draft=f"{part.code}/look", **form.cleaned_data
        )
    except Refused as refused:
        form.add_error(refused.field, refused.message)
        return _page(request, survey, part, status=refused.status, look_form=form)
    return done(
        request, SAID[form.cleaned_data["word"]].format(group=part.name), _next(request, survey, part)
    )


@only(Deed.SURVEY)
@require_POST
def reading(request: HttpRequest, number: str, group: str) -> HttpResponse:
    instrument, part = instrument_or_404(number), group_or_404(group)
    survey = survey_or_404(instrument)
    form = ReadingForm(request.POST)
    if not form.is_valid():
        return _page(request, survey, part, status=422, reading_form=form)
    said = form.cleaned_data
    kind = ReadingKind.objects.filter(code=said["kind"], group=part).first()
    try:
        if kind is None:
            raise Refused("There is no such reading in this group.")
        taken = services.add_reading(
            survey=survey,
            kind=kind,
            typed=said["value"],
            units=units(),
            place=said["place"],
            measured_again=said["again"],
            by=me(request),
            key=said["key"],
            draft=f"{part.code}/reading-{kind.code}",
        )
    except Refused as refused:
        form.add_error(None, refused.message)
        asks_again = isinstance(refused, services.BeyondPossible)
        return _page(
            request, survey, part, status=refused.status, reading_form=form, reading_asks_again=asks_again
        )
    words = f"{taken.kind.name}: {taken.typed} {taken.unit}".strip() + " is written down."
    return done(request, words, _here(survey, part) + f"#reading-{taken.kind.code}")


@only(Deed.SURVEY)
@require_POST
def take_back_reading(request: HttpRequest, number: str, pk: int) -> HttpResponse:
    instrument = instrument_or_404(number)
    readings = SurveyReading.objects.select_related("survey", "kind__group")
    taken = get_object_or_404(readings, pk=pk, survey__instrument=instrument)
    taken.survey.instrument = instrument
    part = taken.kind.group or group_or_404("")
    try:
        services.take_back_reading(reading=taken, by=me(request))
    except Refused as refused:
        return _page(request, taken.survey, part, status=refused.status, refusal=refused.message)
    return done(request, "The reading is taken back; it stays in the records.", _here(taken.survey, part))


@only(Deed.SURVEY)
@require_POST
def draft(request: HttpRequest, number: str) -> HttpResponse:
    """A half-done form, as it is being typed; told in JSON, since only the page's own script asks."""
    instrument = instrument_or_404(number)
    survey = survey_or_404(instrument)
    form = request.POST.get("draft", "")
    typed = {name: str(value) for name, value in request.POST.items() if name not in _NOT_TYPED}
    if request.POST.get("throw_away"):
        services.forget_draft(survey=survey, form=form, by=me(request))
        return done(request, "What was half done is thrown away.", _back_to(request, survey, form))
    try:
        kept = services.keep_draft(survey=survey, form=form, fields=typed, by=me(request))
    except Refused as refused:
        return JsonResponse({"words": refused.message}, status=refused.status)
    at = f"{timezone.localtime(kept.saved_at):%H:%M}" if kept else ""
    return JsonResponse({"kept_at": at})


_NOT_TYPED = {"csrfmiddlewaretoken", "draft", "throw_away"}


def _back_to(request: HttpRequest, survey: Survey, form: str) -> str:
    part = ComponentGroup.objects.filter(code=form.partition("/")[0][:20]).first()
    if part is None:
        return reverse("instruments:survey", args=[survey.instrument.number])
    return _here(survey, part)


def _here(survey: Survey, part: ComponentGroup) -> str:
    return reverse("instruments:survey-group", args=[survey.instrument.number, part.code])


def _next(request: HttpRequest, survey: Survey, part: ComponentGroup) -> str:
    """The next group that nobody has closed; the overview when there is none left."""
    whole = overview(survey, viewer=me(request))
    codes = [line.group.code for line in whole.lines]
    place = codes.index(part.code)
    ahead = [*whole.lines[place + 1 :], *whole.lines[:place]]
    nearest = next((line for line in ahead if not line.is_done), None)
    if nearest is None:
        return reverse("instruments:survey", args=[survey.instrument.number])
    return _here(survey, nearest.group)


def _page(
    request: HttpRequest, survey: Survey, part: ComponentGroup, *, status: int = 200, **more: object
) -> HttpResponse:
    if survey.finished_at is not None:
        return _finished(request, survey.instrument, more, status)
    whole = overview(survey, viewer=me(request))
    drafts = {draft.form: draft.fields for draft in whole.drafts}
    context: Context = {
        "instrument": survey.instrument,
        "survey": survey,
        "whole": whole,
        "line": next(line for line in whole.lines if line.group.pk == part.pk),
        "page": group_page(whole, part, units=units()),
        "before": whole.beside(part.code, -1),
        "after": whole.beside(part.code, +1),
        "verdicts": Finding.Verdict.choices,
        "look_form": LookForm(initial=drafts.get(f"{part.code}/look", {})),
        "reading_drafts": {
            form.removeprefix(f"{part.code}/reading-"): fields
            for form, fields in drafts.items()
            if form.startswith(f"{part.code}/reading-")
        },
        "key": fresh_key(),
        "most_bytes": settings.PHOTO_MAX_BYTES,
    }
    return render(request, "instruments/survey_group.html", context | more, status=status)


def _finished(
    request: HttpRequest, instrument: Instrument, more: dict[str, object], status: int
) -> HttpResponse:
    """A form that comes after the survey was finished: why it is not taken, and where to go."""
    form = more.get("look_form") or more.get("reading_form")
    words = more.get("refusal") or (form.non_field_errors()[0] if form and form.non_field_errors() else "")  # type: ignore[attr-defined]
    context = {"instrument": instrument, "words": words or "This survey is finished.", "form": form}
    return render(request, "instruments/survey_is_finished.html", context, status=max(status, 409))
